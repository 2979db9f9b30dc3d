package simulated

import (
	"strings"
	"testing"
)

func TestParseFault(t *testing.T) {
	tests := []struct {
		text string
		want Fault
		back string
	}{
		{"zero:FL=115", Fault{"zero", "FL", 115}, "zero:FL=115"},
		{"zero-my:FL", Fault{"zero-my", "FL", 25}, "zero-my:FL=25"},
		{"harness:FL,RR", Fault{"harness", "FL,RR", 0}, "harness:FL,RR"},
		{"dropout:camber FL=0.2", Fault{"dropout", "camber FL", 0.2}, "dropout:camber FL=0.2"},
		{" off ", Fault{"off", "", 0}, "off=0"},
	}
	for _, tt := range tests {
		t.Run(tt.text, func(t *testing.T) {
			got, err := ParseFault(tt.text)
			if err != nil {
				t.Fatal(err)
			}
			if got != tt.want {
				t.Errorf("got %+v, want %+v", got, tt.want)
			}
			if got.String() != tt.back {
				t.Errorf("as text: got %q, want %q", got.String(), tt.back)
			}
		})
	}
	for text, want := range map[string]string{
		"zerro:FL":        `nearest is "zero"`,
		"zero:FL=much":    `want a number in N`,
		"zero:FL=Inf":     `value +Inf`,
		"lost:FL=2":       `want 0 to 1`,
		"harness:FL,RR=1": `takes no value`,
		"":                `no such kind`,
	} {
		t.Run("bad "+text, func(t *testing.T) {
			_, err := ParseFault(text)
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("got %v, want something with %q", err, want)
			}
		})
	}
}
