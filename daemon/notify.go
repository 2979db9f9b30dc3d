package daemon

import (
	"net"
	"os"
	"strconv"
	"strings"
	"time"
)

// notifier tells the service manager how the daemon stands (sd_notify of systemd): that it is
// ready, that it is alive, that it ends. Without a manager it says nothing.
type notifier struct {
	conn  net.Conn
	every time.Duration // of the watchdog; 0: none is asked for
	last  time.Time
}

// newNotifier opens what the environment names. A manager that cannot be reached is no reason not to listen.
func newNotifier() notifier {
	var n notifier
	path := os.Getenv("NOTIFY_SOCKET")
	if path == "" {
		return n
	}
	if strings.HasPrefix(path, "@") {
		path = "\x00" + path[1:]
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		return n
	}
	n.conn = conn
	if us, err := strconv.ParseInt(os.Getenv("WATCHDOG_USEC"), 10, 64); err == nil && us > 0 {
		n.every = time.Duration(us) * time.Microsecond / 3
	}
	return n
}

func (n *notifier) say(state string) {
	if n.conn == nil {
		return
	}
	_ = n.conn.SetWriteDeadline(time.Now().Add(100 * time.Millisecond))
	_, _ = n.conn.Write([]byte(state)) // a manager that does not listen is its own affair
}

// alive feeds the watchdog. It is called from the loop that judges: who only waits for that loop is not alive.
func (n *notifier) alive() {
	if n.every == 0 {
		return
	}
	if now := time.Now(); now.Sub(n.last) >= n.every {
		n.last = now
		n.say("WATCHDOG=1")
	}
}

func (n *notifier) close() {
	if n.conn != nil {
		_ = n.conn.Close()
	}
}
