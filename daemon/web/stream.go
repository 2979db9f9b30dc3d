package web

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"time"
)

// stream sends server-sent events: "page" with what has changed on the page that the query names, or
// "result" with the whole result where it names none, and "beat" at least once a second. A viewer is
// sent the newest moment, at most ten a second; what it was too slow for is not kept.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) {
	v := viewer{server: s, w: w, control: http.NewResponseController(w), lang: s.language(r)}
	if path := r.URL.Query().Get("page"); path != "" {
		p, ok := s.find(path)
		if !ok {
			http.Error(w, "no such page", http.StatusNotFound)
			return
		}
		p.ask(r.URL.Query(), s.looks)
		v.page = &p
	}
	if s.viewers.Add(1) > maxViewers {
		s.viewers.Add(-1)
		w.Header().Set("Retry-After", "5")
		http.Error(w, "too many viewers", http.StatusServiceUnavailable)
		return
	}
	defer s.viewers.Add(-1)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	if r.Method == http.MethodHead {
		return
	}
	// the server's bounds are those of a request; a stream has one for each write
	_ = v.control.SetReadDeadline(time.Time{}) // not supported: the server's own bound ends the stream, and the viewer comes back
	if !v.write("retry: 1000\n\n") {
		return
	}
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	pause := time.NewTimer(0)
	defer pause.Stop()
	for {
		m := s.moment.Load()
		if !v.send(m) {
			return
		}
		pause.Reset(sendEvery)
		for waiting, news := true, false; waiting || !news; {
			next := m.next
			if news {
				next = nil
			}
			select {
			case <-r.Context().Done():
				return
			case <-pause.C:
				waiting = false
			case <-next:
				news = true
			case <-beat.C:
				if !v.event("beat", v.sign(m)) {
					return
				}
			}
		}
	}
}

// viewer is one who looks.
type viewer struct {
	server  *Server
	w       http.ResponseWriter
	control *http.ResponseController
	lang    string
	page    *page             // nil: the result is wanted
	sent    map[string]string // by region
	number  uint64            // of the event
}

// sign is a sign of life, and with it what has changed.
type sign struct {
	State   state             `json:"state"`
	Age     float64           `json:"age"` // s, of the newest state
	Build   string            `json:"build"`
	Regions map[string]string `json:"regions,omitempty"` // HTML
}

func (v *viewer) sign(m *moment) sign {
	age := v.server.now().Sub(m.since).Seconds()
	if m.since.IsZero() {
		age = 0
	}
	return sign{State: m.state, Age: age, Build: v.server.build}
}

// send sends a moment; false: the viewer has gone.
func (v *viewer) send(m *moment) bool {
	if v.page == nil {
		if m.snapshot == nil {
			return v.event("beat", v.sign(m))
		}
		return v.event("result", &m.result)
	}
	regions, err := v.server.render(m, v.page, v.lang)
	if err != nil {
		return false
	}
	e := v.sign(m)
	e.Regions = map[string]string{}
	for _, region := range regions {
		if v.sent[region.Name] != string(region.HTML) {
			e.Regions[region.Name] = string(region.HTML)
		}
	}
	if v.sent == nil {
		v.sent = map[string]string{}
	}
	maps.Copy(v.sent, e.Regions)
	return v.event("page", e)
}

// event writes one event: a JSON text has no line feed.
func (v *viewer) event(name string, data any) bool {
	text, err := json.Marshal(data)
	if err != nil {
		return false
	}
	v.number++
	return v.write(fmt.Sprintf("event: %s\nid: %d\ndata: %s\n\n", name, v.number, text))
}

// write gives a viewer five seconds to take the text.
func (v *viewer) write(text string) bool {
	_ = v.control.SetWriteDeadline(time.Now().Add(5 * time.Second)) // not supported: then the server's bound holds
	if _, err := v.w.Write([]byte(text)); err != nil {
		return false
	}
	return v.control.Flush() == nil
}
