package archive

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
)

// Shard is the share of one machine: number Number of Of, from 1. The zero value is everything.
//
// A recording's shard is told by the hash of its place alone: it does not matter on which machine or in
// which order, a shard that is run again does the same, and recordings that are added later leave those
// that are there where they were. The price is that shards are of equal size only about: of n recordings in
// each, some √n more or less.
type Shard struct{ Number, Of int }

// maxShards bounds the machines; more is a typing error.
const maxShards = 1_000_000

// ParseShard reads "2/5".
func ParseShard(text string) (Shard, error) {
	number, of, ok := strings.Cut(text, "/")
	n, errN := strconv.Atoi(number)
	m, errM := strconv.Atoi(of)
	if !ok || errN != nil || errM != nil || n < 1 || n > m || m > maxShards {
		return Shard{}, fmt.Errorf("the shard is %q: write K/N, the share of machine K of N, as in 1/4 to 4/4", text)
	}
	return Shard{n, m}, nil
}

// String returns "2/5".
func (s Shard) String() string {
	s = s.whole()
	return fmt.Sprintf("%d/%d", s.Number, s.Of)
}

func (s Shard) whole() Shard {
	if s.Of == 0 {
		return Shard{1, 1}
	}
	return s
}

// Has reports whether the recording at a place belongs to the shard: the first 8 bytes of the SHA-256 of
// the place, most significant first, modulo Of, plus 1, is Number.
func (s Shard) Has(place string) bool {
	s = s.whole()
	sum := sha256.Sum256([]byte(place))
	return binary.BigEndian.Uint64(sum[:])%uint64(s.Of) == uint64(s.Number-1)
}

// Pick returns the indexes of the recordings that belong to the shard.
func (s Shard) Pick(list []Recording) []int {
	var picked []int
	for i := range list {
		if s.Has(list[i].Place) {
			picked = append(picked, i)
		}
	}
	return picked
}

// hashOf returns the hash over the places of a list, hex.
func hashOf(list []Recording) string {
	h := sha256.New()
	for i := range list {
		fmt.Fprintf(h, "%s\x00", list[i].Place)
	}
	return hex.EncodeToString(h.Sum(nil))
}
