package socketcan

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// classNet is where the kernel shows interfaces.
const classNet = "/sys/class/net"

// identify reads what sysfs, mounted at the parent of class/net, says of an
// interface. What cannot be read stays empty: a virtual interface has no device.
func identify(class, name string) Adapter {
	var a Adapter
	dir := filepath.Join(class, name)
	device, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
	if err != nil {
		return a
	}
	a.Path = filepath.Base(device)
	a.Driver = target(filepath.Join(device, "driver"))
	a.Bus = target(filepath.Join(device, "subsystem"))
	// multi-channel drivers number their channels in one of the two
	if a.Channel = number(filepath.Join(dir, "dev_port")); a.Channel == 0 {
		a.Channel = number(filepath.Join(dir, "dev_id"))
	}
	if a.Bus != "usb" {
		return a
	}
	// what an interface of a USB device belongs to has the serial number: 1-2.3:1.0 to 1-2.3
	parent := filepath.Dir(device)
	if !strings.Contains(a.Path, ":") {
		parent = device
	}
	a.Path = filepath.Base(parent)
	a.Serial = line(filepath.Join(parent, "serial"))
	a.Product = line(filepath.Join(parent, "product"))
	vendor, product := line(filepath.Join(parent, "idVendor")), line(filepath.Join(parent, "idProduct"))
	if vendor != "" && product != "" {
		a.Vendor = vendor + ":" + product
	}
	return a
}

// target returns the name that a symbolic link ends in.
func target(link string) string {
	to, err := os.Readlink(link)
	if err != nil {
		return ""
	}
	return filepath.Base(to)
}

// line returns the first line of a file of sysfs.
func line(file string) string {
	b, err := os.ReadFile(file)
	if err != nil {
		return ""
	}
	first, _, _ := strings.Cut(string(b), "\n")
	return strings.TrimSpace(first)
}

// number returns the number in a file of sysfs, decimal or 0x…, else 0.
func number(file string) int {
	n, err := strconv.ParseUint(line(file), 0, 16)
	if err != nil {
		return 0
	}
	return int(n)
}

// isCAN is ARPHRD_CAN, the kind of a CAN interface in its file type.
const isCAN = "280"

// find returns the interface of an adapter, as Interface.Adapter names it; "" when there is none, and then
// which adapters there are, as a person reads it.
func find(class, adapter string) (device, others string) {
	entries, err := os.ReadDir(class)
	if err != nil {
		return "", ""
	}
	var there []string
	for _, e := range entries {
		if line(filepath.Join(class, e.Name(), "type")) != isCAN {
			continue
		}
		a := identify(class, e.Name())
		if a.is(adapter) {
			return e.Name(), ""
		}
		if called := a.String(); called != "" {
			there = append(there, called+" ("+e.Name()+")")
		}
	}
	const most = 4
	if len(there) > most {
		there = append(there[:most], "…")
	}
	return "", strings.Join(there, ", ")
}

// is reports whether this is the adapter that a person names.
func (a *Adapter) is(wanted string) bool {
	name, channel := wanted, 0
	if before, after, ok := cutLast(wanted, '/'); ok {
		if n, err := strconv.ParseUint(after, 10, 16); err == nil {
			name, channel = before, int(n)
		}
	}
	return name != "" && (a.Serial == name || a.Path == name) && a.Channel == channel
}

func cutLast(text string, sep byte) (before, after string, ok bool) {
	i := strings.LastIndexByte(text, sep)
	if i < 0 {
		return text, "", false
	}
	return text[:i], text[i+1:], true
}

// String names the adapter as a setup does: by its serial number, else by its path.
func (a *Adapter) String() string {
	name := a.Serial
	if name == "" {
		name = a.Path
	}
	if name != "" && a.Channel > 0 {
		name += "/" + strconv.Itoa(a.Channel)
	}
	return name
}
