package checks

import (
	"slices"
	"strings"
	"testing"
)

func TestBus(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(j *Judge, at int64)
		want Verdict
		says string
	}{
		{"well", func(*Judge, int64) {}, Pass, "0 error frames, 0 lost"},
		{"one disturbance", func(j *Judge, at int64) { j.ErrorFrame(at, 0, 0x008) }, Pass, "1 error frame"},
		{"many errors", func(j *Judge, at int64) {
			for range 50 {
				j.ErrorFrame(at, 0, 0x008)
			}
		}, Fail, "50 error frames"},
		{"no acknowledge", func(j *Judge, at int64) {
			for range 50 {
				j.ErrorFrame(at, 0, 0x020)
			}
		}, Fail, "without an acknowledge"},
		{"bus-off, and back", func(j *Judge, at int64) {
			j.ErrorFrame(at, 0, 0x040)
			j.Link(at+1e9, 0, LinkActive, "frames arrive")
		}, Fail, "went bus-off 1 time"},
		{"switched off", func(j *Judge, at int64) { j.Link(at, 0, LinkDown, "can0 is switched off") }, Fail, "can0 is switched off"},
		{"was away, is back", func(j *Judge, at int64) {
			j.Link(at, 0, LinkAbsent, "can0 is not there")
			j.Link(at+1, 0, LinkActive, "")
		}, Pass, "wheels was not there, 5.0 s after the start"},
		{"lost in the queue", func(j *Judge, at int64) { j.Loss(at, 0, LostQueue, 100) }, Fail, "in the receive queue"},
		{"lost by the recorder alone", func(j *Judge, at int64) { j.Loss(at, 0, LostRecorder, 100) }, Pass, "0 lost"},
		{"garbage", func(j *Judge, at int64) { j.Garbage(at, 0, 5000, "bad checksum") }, Fail, "bad checksum"},
		{"no valid frame", func(j *Judge, at int64) { j.Link(at, 0, LinkNoValidFrame, "bytes, but no frame") }, Fail, "bytes, but no frame"},
		{"half full", func(j *Judge, at int64) {
			j.Busy(at, 0, 5e8)
			j.Busy(at+1e9, 0, 0)
		}, Pass, "load up to 50.0 %"},
		{"full", func(j *Judge, at int64) {
			j.Busy(at, 0, 98e7)
			j.Busy(at+1e9, 0, 0)
		}, Fail, "is full: 98.0 %"},
		{"of no source", func(j *Judge, at int64) {
			j.ErrorFrame(at, 7, 1)
			j.Loss(at, -1, LostQueue, 1)
			j.Busy(at, 7, 1)
			j.Stranger(at, 0, 9)
		}, Pass, "0 lost"},
	} {
		r := newRig(3, "FL")
		r.run(5)
		c.do(r.judge, r.at)
		got := r.judge.Result()
		f := find(got, "bus", "wheels", "")
		if f.Verdict != c.want || !strings.Contains(f.Sentence, c.says) {
			t.Errorf("%s: %s: %s; want %s, %q", c.name, f.Verdict, f.Sentence, c.want, c.says)
		}
		if f.Verdict == Fail && f.Next == "" {
			t.Errorf("%s: says nothing to do", c.name)
		}
	}
}

// TestBusCauses: what is wrong with a whole source is told as that.
func TestBusCauses(t *testing.T) {
	for _, c := range []struct {
		name string
		runs float64 // s
		do   func(j *Judge, at int64)
		want string
	}{
		{"no acknowledge", 5, func(j *Judge, at int64) {
			for range 50 {
				j.ErrorFrame(at, 0, 0x020)
			}
		}, "no-acknowledge:wheels"},
		{"no valid frame", 5, func(j *Judge, at int64) { j.Link(at, 0, LinkNoValidFrame, "bytes, but no frame") }, "baud-rate:wheels"},
		{"error frames and nothing else", 0, func(j *Judge, at int64) {
			for range 50 {
				j.ErrorFrame(at, 0, 0x008)
			}
		}, "bit-rate:wheels"},
		{"nothing at all", 0, func(*Judge, int64) {}, "source-off:wheels"},
	} {
		r := newRig(3, "FL")
		if c.runs > 0 {
			r.run(c.runs)
		} else {
			r.start()
		}
		r.judge.Advance(r.at)
		c.do(r.judge, r.at)
		if c.runs == 0 {
			r.judge.Advance(r.at + 4e9)
		}
		got := r.judge.Result()
		if len(got.Causes) != 1 || got.Causes[0].ID != c.want || got.Next != got.Causes[0].Next {
			t.Errorf("%s: causes %+v, next %q; want %s, and what to do of it", c.name, got.Causes, got.Next, c.want)
		}
	}
}

// Adapters that are exchanged are known by the identifiers that they carry.
func TestAdaptersExchanged(t *testing.T) {
	var s Setup
	s.Limits = DefaultLimits()
	s.Sources = []string{"wheels", "optics"}
	for i, q := range []Quantity{Fz, SpeedX} {
		s.Messages = append(s.Messages, Message{Name: "M", Source: i, Period: 0.01, Length: 8})
		s.Channels = append(s.Channels, Channel{Name: "M.S", Quantity: q, Message: i, Step: 1, Low: -1e4, High: 1e4})
	}
	corner, optic := Corner{Name: "FL", Channels: NoChannels()}, Optic{Name: "road", Kind: GroundSpeed, Corner: -1, Channels: NoChannels()}
	corner.Channels[Fz], optic.Channels[SpeedX] = 0, 1
	s.Corners, s.Optics = []Corner{corner}, []Optic{optic}
	j := New(s)
	for i := range 500 {
		j.Advance(int64(i) * 1e7)
		j.Stranger(int64(i)*1e7, 0, 1)
		j.Stranger(int64(i)*1e7, 1, 0)
	}
	got := j.Result()
	if len(got.Causes) == 0 || got.Causes[0].ID != "adapters-exchanged:wheels,optics" {
		t.Fatalf("causes %+v, want the exchanged adapters", got.Causes)
	}
	if f := find(got, "bus", "wheels", ""); f.Verdict != Fail || !strings.Contains(f.Sentence, "what optics sends arrives on wheels") {
		t.Errorf("%s: %s", f.Verdict, f.Sentence)
	}
}

// One that is unplugged while it is heard is told once: the amplifier behind it is not off as well.
func TestUnplugged(t *testing.T) {
	for _, link := range []LinkState{LinkAbsent, LinkDown, LinkActive} {
		r := newRig(3, "FL", "FR")
		r.run(5)
		r.judge.Link(r.at, 0, link, "said of the link")
		r.judge.Advance(r.at + 5e9)
		var got []string
		for _, c := range r.judge.Result().Causes {
			got = append(got, c.ID)
		}
		want := []string{"not-connected:wheels"}
		if link == LinkActive {
			want = []string{"amplifier-away:wheels"}
		}
		if !slices.Equal(got, want) {
			t.Errorf("link %d: causes %q, want %q", link, got, want)
		}
	}
}

// An adapter that is pulled out after a drive does not explain what had failed in it.
func TestUnpluggedHidesNothing(t *testing.T) {
	r := newRig(2, "FL", "FR")
	r.wheels[0].zero[Fx] = 120
	r.brief(0, 1)
	r.judge.Link(r.at, 0, LinkAbsent, "the adapter is gone")
	r.judge.Advance(r.at + 5e9)
	got := r.judge.Result()
	if f := find(got, "zero", "FL", "fx"); f.Verdict != Fail || f.Cause != "" {
		t.Errorf("zero: %s, by the cause %q, want a fail of its own", f.Verdict, f.Cause)
	}
	if f := find(got, "alive", "FL", ""); f.Verdict != Fail || f.Cause != "not-connected:wheels" {
		t.Errorf("alive: %s, by the cause %q, want a fail by the adapter", f.Verdict, f.Cause)
	}
}

// A source that is not there is told as that, and not as an amplifier that is off.
func TestNotConnected(t *testing.T) {
	r := newRig(3, "FL")
	r.start()
	r.judge.Link(r.at, 0, LinkAbsent, "there is no /dev/ttyX: plug the adapter in")
	r.judge.Advance(r.at)
	r.judge.Advance(r.at + 4e9)
	got := r.judge.Result()
	if len(got.Causes) != 1 || got.Causes[0].ID != "not-connected:wheels" || got.Causes[0].Sentence != "there is no /dev/ttyX: plug the adapter in" {
		t.Errorf("causes %+v", got.Causes)
	}
	if want := "Plug in the adapter of wheels, or correct its device in the setup."; got.Next != want {
		t.Errorf("next %q, want %q", got.Next, want)
	}
}
