package capture

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync/atomic"
	"syscall"
)

// Progress says how far a source has read.
type Progress interface {
	// Fraction returns the part of the file that was read, 0 to 1, packed
	// bytes where it is packed; known is false where the whole is not known,
	// as with a pipe. It may be called from any goroutine.
	Fraction() (done float64, known bool)
}

// input is the file below a source. Read belongs to one goroutine; Close and
// Fraction to any.
type input struct {
	name  string
	file  *os.File
	first int64        // where reading began, in bytes
	size  int64        // bytes from there on; -1: not known
	limit int64        // bytes to be read at most; -1: all
	done  atomic.Int64 // bytes read
}

func openInput(path string) (*input, error) {
	in := &input{name: path, size: -1, limit: -1}
	if path == "-" {
		in.name = "standard input"
		in.file = standardInput()
	} else {
		file, err := os.Open(path)
		if err != nil {
			return nil, err // says what was to be opened
		}
		in.file = file
	}
	info, err := in.file.Stat()
	if err != nil {
		return nil, errors.Join(err, in.Close())
	}
	if info.IsDir() {
		return nil, errors.Join(fmt.Errorf("%s: a directory; name the recordings in it", in.name), in.Close())
	}
	if info.Mode().IsRegular() {
		if at, err := in.file.Seek(0, io.SeekCurrent); err == nil {
			in.first, in.size = at, max(0, info.Size()-at)
		}
	}
	return in, nil
}

// standardInput returns standard input, of a pipe one that can be closed while
// a Read waits. For that it is opened once more: changing the mode of the
// descriptor itself would change it for everybody who shares it.
func standardInput() *os.File {
	if info, err := os.Stdin.Stat(); err == nil && info.Mode()&fs.ModeNamedPipe != 0 {
		// without O_NONBLOCK it would wait for a writer, who may be gone already
		if f, err := os.OpenFile("/dev/stdin", os.O_RDONLY|syscall.O_NONBLOCK, 0); err == nil {
			return f
		}
	}
	return os.Stdin
}

// Read implements [io.Reader].
func (in *input) Read(p []byte) (int, error) {
	if in.limit >= 0 {
		left := in.limit - in.done.Load()
		if left <= 0 {
			return 0, io.EOF
		}
		p = p[:min(int64(len(p)), left)]
	}
	n, err := in.file.Read(p)
	in.done.Add(int64(n))
	return n, err
}

// Close implements [io.Closer].
func (in *input) Close() error { return in.file.Close() }

// Fraction implements [Progress].
func (in *input) Fraction() (done float64, known bool) {
	switch {
	case in.size < 0:
		return 0, false
	case in.size == 0:
		return 1, true
	}
	return min(1, float64(in.done.Load())/float64(in.size)), true // the file may grow
}

// minNULs is how many NUL bytes at the end of a packed file cannot be its own:
// both formats end in check sums and lengths, or in data that is packed.
const minNULs = 64

// trimNULs makes the file end before the NUL bytes that a power loss has left.
// A packed stream that runs into them would unpack to invented data. It begins
// again at the first byte and returns how many NUL bytes it took off. If the
// stream was whole, up to three bytes of its own may go with them, the end of
// a length; all data is there then, and a warning too many.
func (in *input) trimNULs() (nuls int64, err error) {
	if in.size < 0 {
		return 0, nil
	}
	var buf [64 << 10]byte
	end := in.size
	for end > 0 {
		n := min(int64(len(buf)), end)
		chunk := buf[:n]
		if _, err := in.file.ReadAt(chunk, in.first+end-n); err != nil && !errors.Is(err, io.EOF) {
			return 0, err
		}
		for n > 0 && chunk[n-1] == 0 {
			n--
			end--
		}
		if n > 0 {
			break
		}
	}
	if in.size-end < minNULs {
		return 0, nil
	}
	if _, err := in.file.Seek(in.first, io.SeekStart); err != nil {
		return 0, err
	}
	in.done.Store(0)
	nuls = in.size - end
	in.size, in.limit = end, end
	return nuls, nil
}
