// Contents says what a built program is made of, for the packages that
// daemon/packaging/build writes. It goes by what the Go compiler has put into the
// program itself (debug/buildinfo), not by go.mod: what is listed is what is in it.
//
//	contents spdx PROGRAM          a bill of materials, SPDX 2.3 as JSON
//	contents notices PROGRAM…      the licences that all parts ask to be passed on
//
// Both go to standard output and are the same bytes for the same program; the one
// time in them is SOURCE_DATE_EPOCH. Texts of licences come from the folders where
// the Go command keeps modules.
package main
