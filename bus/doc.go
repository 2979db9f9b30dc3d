// Package bus says what a frame is and where frames come from.
//
// A [Frame] is one message as it was heard on a bus, stamped with event time.
// A [Source] delivers frames in the order they were heard, together with what
// was met between them ([Note]): marks, losses, broken input. Each way in has a
// folder of its own (candump, pcapng, simulated, …); the folder dbc turns the
// bytes of a frame into physical values.
//
// Nothing below bus sends: there is no way out of this package tree.
// Nothing here knows what a check is; package checks knows no frame.
package bus
