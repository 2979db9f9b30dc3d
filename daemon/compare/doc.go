// Package compare tells what moved between two function tests: of each zero, angle,
// weight and drag whether the difference of its two values is more than the
// uncertainty of that difference, and what that means for the data in between.
//
// # The uncertainty of a difference
//
// The uncertainties of the two values cannot just be added as squares: what both
// tests share drops out of the difference (JCGM 100:2008, 5.2.2, a correlation of
// +1), and what they do not share stays. A result names the parts of each uncertainty:
//
//	scatter     from turn to turn, or second to second: independent
//	resolution  half a raw step, since nobody knows whether the amplifier rounds or
//	            truncates: common, and gone, where the same transducer sends the same
//	            step and something sweeps the value over the steps (the weight of the
//	            turned wheel, or noise of more than half a step); else independent
//	count       a count of the encoder: the half of it that is rounding or truncation
//	            is common, the other half, where in a count the index was caught when
//	            the electronics were switched on, is independent
//	wheel mass  of both setups the same: common; it has no part in the results
//	calibration of the same transducer: common. A scale that is 1 % off makes a
//	            difference 1 % too large, no more
//
// Degrees of freedom are combined after Welch and Satterthwaite over the independent
// parts alone (JCGM 100, G.4.1 asks for that). A result of an earlier version has no
// parts: then all of its uncertainty counts as independent.
//
// What no part holds is what a person does differently the second time: another hand
// at the wheel, another temperature, a wheel taken off and put on again.
//
// # Many quantities at once
//
// Of forty quantities two lie outside of their 95 % by chance alone. So a quantity
// has "moved" where its difference exceeds the uncertainty at 1 − 5 %/n, n being how
// many are compared (Bonferroni: it holds however they depend on each other). The
// chance that anything is said to have moved, when nothing has, is then at most 5 %
// for the whole comparison. Apart from that, each difference is held against a limit,
// with its 95 % as the guard band (JCGM 106): a movement can be certain and too small
// to matter, or large enough to matter and not certain.
//
// Nothing here reads a file or a clock. Values are SI.
package compare
