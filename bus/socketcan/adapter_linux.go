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
