package archive

import (
	"fmt"
	"strings"
	"testing"
)

func TestParseShard(t *testing.T) {
	for _, text := range []string{"", "1", "0/3", "4/3", "-1/3", "1/0", "a/b", "1/3/5", "1/1000001", "1.5/3"} {
		if s, err := ParseShard(text); err == nil || !strings.Contains(err.Error(), "write K/N") {
			t.Errorf("%q: got %v, %v", text, s, err)
		}
	}
	if s, err := ParseShard("3/20"); err != nil || s != (Shard{3, 20}) || s.String() != "3/20" {
		t.Errorf("got %v, %v", s, err)
	}
}

// TestShard: each recording belongs to one shard, and shards are about equal. Which one it is must never change:
// the first rows were computed with sha256sum.
func TestShard(t *testing.T) {
	for _, test := range []struct {
		place string
		want  int // of 5
	}{
		{"2026-01-01/test-0000.log", 1},
		{"b/1.pcapng", 3},
		{"", 3},
	} {
		for k := 1; k <= 5; k++ {
			if got := (Shard{k, 5}).Has(test.place); got != (k == test.want) {
				t.Errorf("%q in shard %d/5: got %v", test.place, k, got)
			}
		}
	}
	list := make([]Recording, 10_000)
	for i := range list {
		list[i].Place = fmt.Sprintf("vehicle-%d/test-%05d.pcapng.zst", i%7, i)
	}
	for _, of := range []int{1, 2, 20, 64} {
		times := make([]int, len(list))
		for k := 1; k <= of; k++ {
			picked := (Shard{k, of}).Pick(list)
			// six standard deviations of a fair draw
			if n, fair := len(picked), len(list)/of; of > 1 && (n-fair)*(n-fair) > 36*fair {
				t.Errorf("shard %d/%d has %d recordings, %d would be fair", k, of, n, fair)
			}
			for _, i := range picked {
				times[i]++
			}
		}
		for i, n := range times {
			if n != 1 {
				t.Fatalf("of %d shards %d have %s", of, n, list[i].Place)
			}
		}
	}
	if n := len((Shard{}).Pick(list)); n != len(list) {
		t.Errorf("the zero value has %d of %d", n, len(list))
	}
}
