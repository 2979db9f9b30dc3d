package simulated

import (
	"errors"
	"io"
	"math"
	"testing"
	"time"

	"go.einride.tech/can"

	"plumbline/bus"
)

// heard is a recorded stream, decoded by the bit extraction of another project
// and by the layout written down here, not by the package's own encoder.
type heard struct {
	v      *Vehicle
	all    []bus.Frame
	notes  []bus.Note
	byID   map[uint32][]bus.Frame
	corner map[string]uint32 // first identifier
}

func hear(t *testing.T, cfg Config) *heard {
	t.Helper()
	v, err := New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	h := &heard{v: v, byID: map[uint32][]bus.Frame{}, corner: map[string]uint32{}}
	for i, k := range cfg.Corners {
		h.corner[k.Name] = 0x100 + 0x10*uint32(i)
	}
	var b bus.Batch
	for {
		err := v.Read(&b)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		h.notes = append(h.notes, b.Notes...)
		for _, f := range b.Frames {
			h.all = append(h.all, f)
			if !f.Flags.Has(bus.Error) {
				h.byID[f.ID] = append(h.byID[f.ID], f)
			}
		}
	}
	return h
}

func data(f *bus.Frame) (d can.Data) {
	copy(d[:], f.Data[:8])
	return d
}

// point is three values at a time.
type point struct {
	at int64
	v  [3]float64
}

func (h *heard) forces(corner string) (all []point) {
	for _, f := range h.byID[h.corner[corner]] {
		d := data(&f)
		all = append(all, point{f.At, [3]float64{
			float64(d.SignedBitsBigEndian(7, 16)), float64(d.SignedBitsBigEndian(23, 16)), float64(d.SignedBitsBigEndian(39, 16)),
		}})
	}
	return all
}

func (h *heard) counters(corner string) (all []int) {
	for _, f := range h.byID[h.corner[corner]] {
		all = append(all, int(f.Data[6]))
	}
	return all
}

func (h *heard) moments(corner string) (all []point) {
	for _, f := range h.byID[h.corner[corner]+1] {
		d := data(&f)
		all = append(all, point{f.At, [3]float64{
			0.2 * float64(d.SignedBitsLittleEndian(0, 16)), 0.2 * float64(d.SignedBitsLittleEndian(16, 16)), 0.2 * float64(d.SignedBitsLittleEndian(32, 16)),
		}})
	}
	return all
}

// angles gives angle, rad, speed, rad/s, and status.
func (h *heard) angles(corner string) (all []point) {
	for _, f := range h.byID[h.corner[corner]+2] {
		d := data(&f)
		all = append(all, point{f.At, [3]float64{
			float64(d.UnsignedBitsLittleEndian(0, 16)) / 65536 * 2 * math.Pi,
			0.05 * float64(d.SignedBitsBigEndian(23, 16)) * 2 * math.Pi / 60,
			float64(f.Data[4]),
		}})
	}
	return all
}

// state gives one page: 0 temperature, 1 supply, 2 serial number.
func (h *heard) state(corner string, page byte) (all []float64) {
	for _, f := range h.byID[h.corner[corner]+3] {
		d := data(&f)
		if f.Data[0] != page {
			continue
		}
		all = append(all, [3]float64{
			0.1 * float64(d.SignedBitsLittleEndian(8, 16)), 0.01 * float64(d.UnsignedBitsLittleEndian(8, 16)), float64(d.UnsignedBitsLittleEndian(8, 32)),
		}[page])
	}
	return all
}

// bar gives outer and inner height, m, and camber, rad, of the first bar.
func (h *heard) bar() (all []point) {
	for _, f := range h.byID[0x600] {
		d := data(&f)
		all = append(all, point{f.At, [3]float64{
			1e-5 * float64(d.UnsignedBitsBigEndian(7, 16)), 1e-5 * float64(d.UnsignedBitsBigEndian(23, 16)),
			0.002 * math.Pi / 180 * float64(d.SignedBitsBigEndian(39, 16)),
		}})
	}
	return all
}

// road gives forward and lateral speed, m/s, and the slip angle, rad.
func (h *heard) road() (all []point) {
	for _, f := range h.byID[0x18FF6000] {
		d := data(&f)
		all = append(all, point{f.At, [3]float64{
			0.01 / 3.6 * float64(d.SignedBitsLittleEndian(0, 16)), 0.01 / 3.6 * float64(d.SignedBitsLittleEndian(16, 16)),
			0.002 * math.Pi / 180 * float64(d.SignedBitsLittleEndian(32, 16)),
		}})
	}
	return all
}

// during cuts out what was heard in the n-th phase of the script, from 0.
func (h *heard) during(phase int, all []point) (in []point) {
	span := h.v.Spans()[phase]
	for _, p := range all {
		if p.at >= span.From && p.at < span.To {
			in = append(in, p)
		}
	}
	return in
}

// sines fits o + p·e^{iθ} + n·e^{−iθ} to x + i·z of the values, θ taken from the
// angles at the nearest later time. The three terms are orthogonal only over
// whole turns, so the normal equations are solved by Gauss's elimination.
func sines(values, angles []point) (o, p, n complex128) {
	var a [3][4]complex128
	j := 0
	for _, v := range values {
		for j < len(angles)-1 && angles[j].at < v.at {
			j++
		}
		sin, cos := math.Sincos(angles[j].v[0])
		e := complex(cos, sin)
		row := [3]complex128{1, e, complex(cos, -sin)}
		conj := [3]complex128{1, complex(cos, -sin), e}
		f := complex(v.v[0], v.v[2])
		for r := range a {
			for c := range row {
				a[r][c] += conj[r] * row[c]
			}
			a[r][3] += conj[r] * f
		}
	}
	for i := range a {
		for r := range a {
			if r == i {
				continue
			}
			m := a[r][i] / a[i][i]
			for c := range a[r] {
				a[r][c] -= m * a[i][c]
			}
		}
	}
	return a[0][3] / a[0][0], a[1][3] / a[1][1], a[2][3] / a[2][2]
}

func mean(all []point, i int) float64 {
	sum := 0.0
	for _, p := range all {
		sum += p.v[i]
	}
	return sum / float64(len(all))
}

// deviation is the root mean square about the mean.
func deviation(all []point, i int) float64 {
	m, sum := mean(all, i), 0.0
	for _, p := range all {
		sum += (p.v[i] - m) * (p.v[i] - m)
	}
	return math.Sqrt(sum / float64(len(all)))
}

func longestGap(all []point) time.Duration {
	longest := int64(0)
	for i := 1; i < len(all); i++ {
		longest = max(longest, all[i].at-all[i-1].at)
	}
	return time.Duration(longest)
}

// unwrapped turns angles in [0, 2π) into a continuous one.
func unwrapped(angles []point) []float64 {
	out := make([]float64, len(angles))
	for i, p := range angles {
		if out[i] = p.v[0]; i > 0 {
			out[i] = out[i-1] + math.Remainder(p.v[0]-angles[i-1].v[0], 2*math.Pi)
		}
	}
	return out
}
