// Package report renders results: as text for people, as a document to print and
// sign, and as JUnit for CI machines.
//
// It judges nothing and rounds only what it shows: SI comes in; degrees,
// millimetres, kilometres per hour and milliseconds are made where a person
// reads. It never says that a vehicle may be driven; it says which checks passed.
// The same results give the same bytes. All functions are safe for concurrent use.
package report
