package setup

// A setup file of any format becomes one tree of nodes that know their place.

// What a file may hold at most. A setup of eight corners has some 500 nodes
// and 6 kB, a tree of it is 6 deep.
const (
	maxBytes = 1 << 20 // of a setup file
	maxNodes = 50_000  // after YAML aliases were expanded
	maxDepth = 32
)

// place is a position in the file, both from 1. Columns count characters.
type place struct{ line, column int }

// shape says what a node is.
type shape uint8

const (
	scalar shape = iota
	mapping
	list
)

// node is a value of the file.
type node struct {
	place
	shape   shape
	value   any     // scalar: string, int64, uint64, float64, bool or nil
	entries []entry // mapping, in the order of the file
	items   []*node // list
	written string  // scalar: as it stands in the file, where that is known
	lost    bool    // list: faulty items were taken out
}

// entry is a key of a mapping with its value.
type entry struct {
	place // of the key
	key   string
	value *node
	bad   bool   // a fault was reported; the value must not be used
	meant string // an unknown key: the one that it was most likely meant to be
}

// get returns the value of a key, nil where the key is missing or its value is
// faulty. It may be called on nil.
func (n *node) get(key string) *node {
	if n == nil {
		return nil
	}
	for i := range n.entries {
		if e := &n.entries[i]; e.key == key && !e.bad {
			return e.value
		}
	}
	return nil
}

// given reports whether a key stands in the file, be it faulty or mistyped:
// what was reported as such is not reported as missing as well.
func (n *node) given(key string) bool {
	if n == nil {
		return false
	}
	for i := range n.entries {
		if n.entries[i].key == key || n.entries[i].meant == key {
			return true
		}
	}
	return false
}

// at returns the place of a key's value, else of the key, else of the mapping.
func (n *node) at(key string) place {
	if v := n.get(key); v != nil {
		return v.place
	}
	if n == nil {
		return place{1, 1}
	}
	for i := range n.entries {
		if n.entries[i].key == key {
			return n.entries[i].place
		}
	}
	return n.place
}

// item returns the place of an item of the list under key.
func (n *node) item(key string, i int) place {
	if v := n.get(key); v != nil && i < len(v.items) {
		return v.items[i].place
	}
	return n.at(key)
}

// settings returns the tree as viper takes it, without what is faulty.
func (n *node) settings() any {
	switch n.shape {
	case mapping:
		m := make(map[string]any, len(n.entries))
		for i := range n.entries {
			if e := &n.entries[i]; !e.bad {
				m[e.key] = e.value.settings()
			}
		}
		return m
	case list:
		l := make([]any, len(n.items))
		for i := range n.items {
			l[i] = n.items[i].settings()
		}
		return l
	case scalar:
	}
	return n.value
}
