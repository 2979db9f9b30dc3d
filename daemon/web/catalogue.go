package web

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"net/http"
	"strings"
)

// The languages of the frame. What the checks say is English in both.
const (
	english = "en"
	german  = "de"
)

// catalogue holds every text of the frame: by key, then by language. A translation is a column of the catalogue files.
type catalogue map[string]map[string]string

func readCatalogue() (catalogue, error) {
	out := catalogue{}
	names, err := fs.Glob(files, "catalogue*.json")
	if err != nil {
		return nil, fmt.Errorf("web: %w", err)
	}
	for _, name := range names {
		text, err := files.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("web: %w", err)
		}
		if err := json.Unmarshal(text, &out); err != nil { // adds to what is there
			return nil, fmt.Errorf("web: %s: %w", name, err)
		}
	}
	return out, nil
}

// say returns the text of a key, with {} replaced by the words in their order. Where there is no text the key
// itself shows that.
func (c catalogue) say(lang, key string, words ...string) string {
	text, ok := c[key][lang]
	if !ok {
		if text, ok = c[key][english]; !ok {
			text = key
		}
	}
	for _, w := range words {
		text = strings.Replace(text, "{}", w, 1)
	}
	return text
}

// language returns the one that the request asks for: ?lang=, else the first known one of Accept-Language in the
// order given (browsers send them in the order of preference), else the default.
func (s *Server) language(r *http.Request) string {
	wanted := append([]string{r.URL.Query().Get("lang")}, strings.Split(r.Header.Get("Accept-Language"), ",")...)
	for _, w := range wanted {
		w, _, _ = strings.Cut(w, ";")
		w, _, _ = strings.Cut(strings.ToLower(strings.TrimSpace(w)), "-")
		if s.looks[w] != nil {
			return w
		}
	}
	return s.cfg.Language
}
