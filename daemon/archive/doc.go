// Package archive judges many recordings: it finds them in folders and by
// patterns ([List]), takes the share of one machine ([Shard]), judges them on all
// cores ([Run]), and writes what came out as the same bytes in whatever order it
// came ([Sheets]). Several machines write result lines, which [Open] reads and
// puts together again: what is written from them equals what one machine writes.
//
// What is held in memory does not grow with what a recording holds: results are
// written to disk as they come, and of each only a [report.Row] stays.
//
// # Result lines
//
// One JSON value a line, the ending is .jsonl. The first says what was judged:
//
//	{"plumbline":"results","schema":1,"program":…,"setup":{…},"shard":2,"of":5,"recordings":10000,"list":SHA-256}
//
// Then a line for each recording, in the order of the archive, index from 0:
//
//	{"index":12,"next":…,"unusable":[…],"result":{…}}
//
// next and unusable (by capture, "" where it could be judged) are what a result
// says to people alone. The last line is {"end":true,"judged":2013}: a file without it was cut
// off. list is the hash over the places of all recordings of the archive, so
// that shards of different archives are never put together.
package archive
