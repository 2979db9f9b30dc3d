// Package history follows transducers over months: it reads the results in a folder
// and sorts what they say of zero, weight, axes and angle by serial number, wherever
// a transducer was mounted, with the drift per month.
//
// It judges nothing and changes nothing. A file that cannot be read is told of, the
// others count all the same. Values are SI; a month is 30.4375 days.
package history
