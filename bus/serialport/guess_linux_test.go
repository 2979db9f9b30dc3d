package serialport

import (
	"context"
	"errors"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// TestGuess: the framing of each device that says nothing of itself is found, through the terminal driver.
func TestGuess(t *testing.T) {
	crc := func(f Framing, c *Checksum) Format { return Format{Framing: f, Checksum: c} }
	tests := []struct {
		name   string
		device Format
		want   string
	}{
		{"cobs, CRC-16", crc(COBS, crc16), "framing cobs, checksum width 16, poly 0x1021, init 0xFFFF"},
		{"cobs, CRC-32", crc(COBS, crc32ISO), "framing cobs, checksum width 32"},
		{"cobs without", crc(COBS, nil), "framing cobs, no checksum"},
		{"slip, xor", crc(SLIP, &Checksum{Kind: KindXor8}), "framing slip, checksum xor8"},
		{"slip without", crc(SLIP, nil), "framing slip, no checksum"},
		{"slcan", crc(SLCAN, nil), "framing slcan"},
		{"lines", crc(Lines, nil), "framing lines, no checksum"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			d := plug(t, byID(t))
			stop, stopped := make(chan struct{}), make(chan struct{})
			rng := rand.New(rand.NewPCG(8, 8))
			go func() {
				defer close(stopped)
				dev := devices()[string(tt.device.Framing)]
				for i := 0; ; i++ {
					select {
					case <-stop:
						return
					default:
					}
					payload := dev.payload(i)
					if tt.device.Framing == COBS || tt.device.Framing == SLIP {
						payload = make([]byte, 12)
						for i := range payload {
							payload[i] = byte(rng.Uint32())
						}
					}
					d.send(wire(&tt.device, payload))
					time.Sleep(2 * time.Millisecond)
				}
			}()
			found, err := Guess(t.Context(), d.path, []int{115200}, nil)
			close(stop)
			<-stopped
			if err != nil {
				t.Fatal(err)
			}
			if len(found) == 0 || !strings.Contains(found[0].String(), tt.want) {
				t.Errorf("got %v, want %q first", found, tt.want)
			}
		})
	}
	t.Run("no port", func(t *testing.T) {
		if _, err := Guess(t.Context(), byID(t), nil, nil); err == nil {
			t.Error("got no error")
		}
	})
}

// TestGuessBaud: at the wrong baud rates there is noise.
func TestGuessBaud(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	format := Format{Framing: COBS, Checksum: crc16}
	closes := 0
	open := func(baud int) (*input, error) {
		read := func(b []byte) (int, error) {
			n := 0
			for n+32 < len(b) {
				piece := make([]byte, 16)
				for i := range piece {
					piece[i] = byte(rng.Uint32())
				}
				if baud == 460800 {
					piece = wire(&format, piece)
				}
				n += copy(b[n:], piece)
			}
			if n == 0 {
				n = copy(b, "x")
			}
			return n, nil
		}
		return &input{read: read, close: func() error { closes++; return nil }}, nil
	}
	found, err := guess(t.Context(), nil, nil, open)
	if err != nil {
		t.Fatal(err)
	}
	if len(found) == 0 || found[0].Baud != 460800 || found[0].Format.Framing != COBS || found[0].Score < 0.95 {
		t.Errorf("got %v", found)
	}
	for _, c := range found[1:] {
		if c.Baud != 460800 && c.Score > 0.5 {
			t.Errorf("noise counts for %v", c)
		}
	}
	if closes != len(GuessBauds()) {
		t.Errorf("closed %d times, want %d", closes, len(GuessBauds()))
	}
	if _, err := guess(t.Context(), []int{0}, nil, open); err == nil {
		t.Error("baud 0: got no error")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := guess(ctx, nil, nil, open); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want context.Canceled", err)
	}
}
