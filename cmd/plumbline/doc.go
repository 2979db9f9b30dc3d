// Command plumbline listens to the amplifier of rotating six-component wheel
// force transducers and says whether each sensor is alive, on the right corner,
// at zero and at the right angle. It sends nothing.
//
// One file holds one command: its flags, what it prints and its exit code. The
// work is done in package daemon and below.
package main
