package daemon

import (
	"fmt"
	"runtime/debug"
)

// crash is a panic on its way from the goroutine in which it happened to the
// one that waits for it, so that the program can end with a sentence and an exit
// code of its own: a panic in a goroutine would end it with the code of a usage error.
type crash struct {
	value any
	stack []byte
}

// catch is deferred in a goroutine; it hands a panic to take.
func catch(take func(*crash)) {
	if p := recover(); p != nil {
		if c, ok := p.(*crash); ok { // caught further down already
			take(c)
			return
		}
		take(&crash{p, debug.Stack()})
	}
}

// Error makes the panic readable where it ends: what happened, and where.
func (c *crash) Error() string { return fmt.Sprintf("%v\n%s", c.value, c.stack) }
