package checks

import (
	"slices"
	"testing"
)

// TestTable: every check says all of what the reference documentation prints, and every limit is used.
func TestTable(t *testing.T) {
	keys := LimitKeys()
	used := map[string]bool{}
	seen := map[string]bool{}
	for _, c := range All() {
		if seen[c.Name] {
			t.Errorf("%s is listed twice", c.Name)
		}
		seen[c.Name] = true
		for field, text := range map[string]string{"Name": c.Name, "Group": string(c.Group), "Asks": c.Asks, "Means": c.Means, "Do": c.Do, "Evidence": c.Evidence, "Formula": c.Formula, "Source": c.Source} {
			if text == "" {
				t.Errorf("%s has no %s", c.Name, field)
			}
		}
		if c.judge == nil {
			t.Errorf("%s judges nothing", c.Name)
		}
		for _, key := range c.Limits {
			used[key] = true
			if !slices.ContainsFunc(keys, func(k LimitKey) bool { return k.Key == key }) {
				t.Errorf("%s judges by %s, which is no limit", c.Name, key)
			}
		}
	}
	for _, k := range keys {
		if !used[k.Key] {
			t.Errorf("no check judges by %s", k.Key)
		}
		if k.Why == "" {
			t.Errorf("%s has no reason", k.Key)
		}
	}
}
