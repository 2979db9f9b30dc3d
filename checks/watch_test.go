package checks

import (
	"math"
	"testing"
)

// slow fits FR with supply, temperature and status in a message of their own, ten times a second; the function
// says what they are so many seconds after the start, NaN for a page that does not come.
func slow(values func(s float64) (supply, temperature, status float64)) func(*rig) {
	return func(r *rig) {
		s := &r.setup
		message := len(s.Messages)
		s.Messages = append(s.Messages, Message{Name: "FR_State", Period: 0.1, Length: 8})
		for _, c := range []Channel{
			{Name: "FR_State.Volt", Quantity: Supply, Step: 0.01, High: 655.35, Named: []NamedValue{{655.35, "not available"}}},
			{Name: "FR_State.Temp", Quantity: Temperature, Step: 0.1, Low: -3276.8, High: 3276.7},
			{Name: "FR_State.State", Quantity: Status, Step: 1, High: 255, Named: []NamedValue{{0, "ok"}, {4, "sensor fault"}}},
		} {
			c.Message = message
			s.Corners[1].Channels[c.Quantity] = int32(len(s.Channels))
			s.Channels = append(s.Channels, c)
		}
		r.start()
		start, next := r.at, r.at
		send := r.send
		r.send = func(at int64, m int, samples []Sample) {
			send(at, m, samples)
			if at < next || m != 2 {
				return
			}
			next += 1e8
			chs := &s.Corners[1].Channels
			v, c, x := values(float64(at-start) * 1e-9)
			var page []Sample
			for q, value := range map[Quantity]float64{Supply: v, Temperature: c, Status: x} {
				page = append(page, Sample{Channel: chs[q], Value: value})
			}
			send(at, message, page)
		}
	}
}

func always(supply, temperature, status float64) func(*rig) {
	return slow(func(float64) (float64, float64, float64) { return supply, temperature, status })
}

// dip changes one of them between two moments, s, and again each eight seconds.
func dip(from, to float64, supply, temperature, status float64) func(*rig) {
	return slow(func(s float64) (float64, float64, float64) {
		if s = math.Mod(s, 8); s >= from && s < to {
			return supply, temperature, status
		}
		return 13.7, 23, 0
	})
}

func TestSupply(t *testing.T) {
	judgeSignals(t, "supply", []signalCase{
		{name: "well", spoil: always(13.7, 23, 0), channel: "-", verdict: Pass, says: "the supply of FR was between 13.70 V and 13.70 V", value: 13.7, near: 1e-9},
		{name: "too low", spoil: always(8.99, 23, 0), channel: "-", verdict: Fail, says: "down to 8.99 V, less than 9.00 V, for 10.0 s from 0.0 s after the start, and still is", value: 8.99, near: 1e-9},
		{name: "at the lower limit", spoil: always(9, 23, 0), channel: "-", verdict: Pass},
		{name: "at the upper limit", spoil: always(32, 23, 0), channel: "-", verdict: Pass},
		{name: "too high", spoil: always(32.01, 23, 0), channel: "-", verdict: Fail, says: "up to 32.01 V, more than 32.00 V", value: 32.01, near: 1e-9},
		{name: "a dip", spoil: dip(2, 2.5, 6, 23, 0), do: func(r *rig) { r.run(6) }, channel: "-", verdict: Fail, says: "down to 6.00 V, less than 9.00 V, for 400.0 ms from 2.0 s after the start, and was well again"},
		{name: "dips", spoil: dip(2, 2.5, 6, 23, 0), do: func(r *rig) { r.run(20) }, channel: "-", verdict: Fail, says: ", 3 times, first 2.0 s after the start, last 18.4 s after the start"},
		{name: "one value", spoil: dip(2, 2.1, 6, 23, 0), do: func(r *rig) { r.run(6) }, channel: "-", verdict: Fail, says: "less than 9.00 V, 2.0 s after the start, and was well"},
		{name: "named as not available", spoil: dip(0, 1, 655.35, 23, 0), do: func(r *rig) { r.run(6) }, channel: "-", verdict: Pass},
		{name: "never available", spoil: always(655.35, 23, 0), channel: "-", verdict: Inconclusive, says: "has sent only \"not available\""},
		{name: "no number", spoil: always(math.NaN(), 23, 0), channel: "-", verdict: Inconclusive, says: "has sent only what is not a number"},
		{name: "not come yet", spoil: several(always(13.7, 23, 0), func(r *rig) { r.send = func(int64, int, []Sample) {} }), channel: "-", verdict: Inconclusive, says: "has not come yet"},
		{name: "not fitted", channel: "-", verdict: Absent, says: "no channel for its supply"},
	})
}

func TestTemperature(t *testing.T) {
	judgeSignals(t, "temperature", []signalCase{
		{name: "well", spoil: always(13.7, 23, 0), channel: "-", verdict: Pass, says: "between 23.00 °C and 23.00 °C"},
		{name: "too hot", spoil: always(13.7, 96, 0), channel: "-", verdict: Fail, says: "up to 96.00 °C, more than 85.00 °C", value: 96, near: 1e-9},
		{name: "at the upper limit", spoil: always(13.7, 85, 0), channel: "-", verdict: Pass},
		{name: "at the lower limit", spoil: always(13.7, -40, 0), channel: "-", verdict: Pass},
		{name: "too cold", spoil: always(13.7, -40.1, 0), channel: "-", verdict: Fail, says: "down to −40.10 °C, less than −40.00 °C", value: -40.1, near: 1e-9},
		{name: "infinite", spoil: always(13.7, math.Inf(1), 0), channel: "-", verdict: Inconclusive},
		{name: "not fitted", channel: "-", verdict: Absent},
	})
}

func TestStatus(t *testing.T) {
	good := func(values ...float64) func(*rig) {
		return func(r *rig) {
			always(13.7, 23, 4)(r)
			r.setup.Channels[r.setup.Corners[1].Channels[Status]].Good = values
			r.judge = New(r.setup)
		}
	}
	judgeSignals(t, "status", []signalCase{
		{name: "well", spoil: always(13.7, 23, 0), channel: "-", verdict: Pass, says: "good throughout"},
		{name: "fault", spoil: always(13.7, 23, 4), channel: "-", verdict: Fail, says: "the status of FR was 4 (sensor fault), for 10.0 s from 0.0 s after the start, and still is"},
		{name: "without a name", spoil: always(13.7, 23, 7), channel: "-", verdict: Fail, says: "was 7, for"},
		{name: "listed as good", spoil: good(0, 4), channel: "-", verdict: Pass},
		{name: "0 is not listed", spoil: good(2), channel: "-", verdict: Fail},
		{name: "now and then", spoil: dip(2, 2.5, 13.7, 23, 4), do: func(r *rig) { r.run(14) }, channel: "-", verdict: Fail, says: ", 2 times, first 2.0 s after the start, last 10.4 s after the start, and was well again after that"},
		{name: "while it is switched on", spoil: dip(0, 0.5, 13.7, 23, 4), do: func(r *rig) { r.run(7.9) }, channel: "-", verdict: Pass, says: "was 4 (sensor fault) at first, and has been good since 0.4 s after the start"},
		{name: "switched on just now", spoil: dip(0, 0.5, 13.7, 23, 4), do: func(r *rig) { r.run(4) }, channel: "-", verdict: Fail},
		{name: "no number", spoil: always(13.7, 23, math.NaN()), channel: "-", verdict: Inconclusive},
		{name: "not fitted", channel: "-", verdict: Absent},
	})
}

func TestIdentity(t *testing.T) {
	serial := func(sent float64) func(*rig) {
		return func(r *rig) { r.wheels[1].serial = sent }
	}
	judgeSignals(t, "identity", []signalCase{
		{name: "the right one", channel: "-", verdict: Pass, says: "FR sends the serial number 1001, as the setup says"},
		{name: "a wrong one", spoil: serial(99_999), channel: "-", verdict: Fail, says: "99999; the setup says 1001"},
		{name: "that of another corner", spoil: serial(1000), channel: "-", verdict: Fail, says: "1000, which the setup gives to FL"},
		{name: "a large one", spoil: func(r *rig) {
			r.setup.Corners[1].Serial = 4_294_967_295
			serial(4_294_967_295)(r)
		}, channel: "-", verdict: Pass, says: "4294967295"},
		{name: "no serial number", spoil: serial(-3), channel: "-", verdict: Fail, says: "what is no serial number"},
		{name: "not come yet", spoil: func(r *rig) { r.drop = func(m int) bool { return m == 3 } }, channel: "-", verdict: Inconclusive, says: "has not come yet"},
		{name: "no number", spoil: serial(math.NaN()), channel: "-", verdict: Inconclusive},
		{name: "not in the setup", spoil: func(r *rig) { r.setup.Corners[1].HasSerial = false }, channel: "-", verdict: Absent},
		{name: "not fitted", spoil: func(r *rig) { r.setup.Corners[1].Channels[Serial] = None }, channel: "-", verdict: Absent},
	})
}
