package checks

import (
	"encoding/binary"
	"math"
	"testing"
)

// FuzzJudge reads a script of bytes: what comes, when, with which values. No script makes it
// panic, and none makes a result that breaks the rules.
func FuzzJudge(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20})
	long := make([]byte, 0, 6000)
	for i := range 1500 {
		long = append(long, byte(i%8), byte(i*7), byte(i/3), byte(i*i))
	}
	f.Add(long)
	f.Add(append([]byte{5, 1, 1, 1, 5, 2, 2, 2}, long...))
	f.Fuzz(func(t *testing.T, script []byte) {
		if len(script) > 1<<14 {
			t.Skip("long")
		}
		r := newRig(1, "FL", "FR")
		r.setup.MassKg = 1200
		r.setup.TurnOrder = []int{0, 1}
		r.setup.Corners[1].Forces = Fixed
		count := int32(len(r.setup.Channels))
		r.setup.Channels = append(r.setup.Channels, Channel{Name: "FL_Forces.Count", Quantity: Counter, Step: 1, High: 255})
		r.setup.Corners[0].Channels[Counter] = count
		r.start()
		j := r.judge
		at := int64(1e18)
		theta, asked := [2]float64{}, 0
		special := []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64, 0, 1e-300}
		for n := 0; len(script) >= 4; n++ {
			op, a, b, c := script[0], script[1], script[2], script[3]
			script = script[4:]
			switch op % 16 {
			default: // a wheel turns, or stands
				i := int(op) % 2
				at += int64(a) * 50_000
				theta[i] += float64(int8(b)) / 500
				s, k := math.Sincos(theta[i])
				fx, fz := -hangingN*-s, -hangingN*k
				if c > 200 {
					fz += rigLoadN
				}
				noise := float64(c%16) * 0.1
				ch := &r.setup.Corners[i].Channels
				row := []Sample{
					{Channel: ch[Fx], Value: fx + noise},
					{Channel: ch[Fz], Value: fz - noise},
					{Channel: ch[My], Value: float64(int8(b)) / 10},
					{Channel: ch[Fy], Value: noise},
				}
				if i == 0 {
					row = append(row, Sample{Channel: count, Value: float64(n % 256)})
				}
				j.Message(at, 2*i, 8, false, row)
				j.Message(at, 2*i+1, 8, false, []Sample{{Channel: ch[Angle], Value: math.Mod(theta[i]+1e3*2*math.Pi, 2*math.Pi)}})
			case 8: // anything at all
				channel := int32(a) % int32(len(r.setup.Channels))
				v := math.Float64frombits(binary.LittleEndian.Uint64([]byte{op, a, b, c, c, b, a, op}))
				j.Message(at, r.setup.Channels[channel].Message, int(b), c%2 == 0, []Sample{{Channel: channel, State: State(c % 3), Value: v}})
			case 9:
				channel := int32(a) % int32(len(r.setup.Channels))
				j.Message(at, r.setup.Channels[channel].Message, 8, false, []Sample{{Channel: channel, Value: special[int(b)%len(special)]}})
			case 10: // the clock
				at += (int64(int8(a))<<16 + int64(b)<<8 + int64(c)) << (a % 24)
				at = max(min(at, 4e18), -4e18)
			case 11:
				at += int64(a)*1e9 + int64(b)
			case 12:
				j.Mark(at, []string{"turn FL", "turn FR", "lift FL", "on the lift", "down", "", "turn", "turn XX"}[a%8])
			case 13:
				if c%4 == 0 { // a reader tells that the clock was set, which may be so
					step := int64(int8(a)) << (b % 64)
					j.ClockSet(step)
					if c%8 == 0 {
						at = max(min(at+step, 4e18), -4e18)
					}
				}
				j.Advance(at + int64(a)*1e7)
			case 14:
				j.Loss(at, int(int8(a)), Place(b%8), uint64(b)<<56)
			case 15:
				if asked++; asked < 8 {
					keepsRules(t, &r.setup, j.Result())
				}
			}
		}
		keepsRules(t, &r.setup, j.Result())
	})
}
