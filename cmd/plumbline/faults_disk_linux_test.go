package main

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// diskFaults are those of the disk that is recorded to. The disks are real ones to the kernel: file systems of their
// own, in memory or in a file there.
func diskFaults() []fault {
	stopped := saying{inLog, `"msg":"recording stopped"`}
	counted := saying{inMetrics, `plumbline_recording_state{state="stopped"}`}
	return []fault{
		{
			name:    "disk full",
			how:     "another program fills the disk until less is free than the recorder leaves; after a while the file goes",
			says:    []saying{stopped, {inLog, "the disk is almost full: 64 MiB are to stay free"}, counted},
			note:    "what is heard meanwhile waits in 16 MiB of memory",
			vehicle: one, prepare: inMemory,
			make: func(tr *trial) {
				tr.begins()
				tr.fill(filepath.Join(tr.dir, "disk", "ballast"), 110)
				tr.hears(tr.fault.says...)
				tr.mends(func() { tr.remove(filepath.Join(tr.dir, "disk", "ballast")) })
			},
		},
		{
			name:  "disk full for longer than memory lasts",
			how:   "the same, while ten times a full bus arrives, until frames are lost",
			says:  []saying{stopped, counted, {inMetrics, `plumbline_source_lost_frames_total{place="recorder",source="wheels"}`}},
			loses: "ring, recorder", losesSome: true,
			note:    "lost is what comes after the 16 MiB; it stands in the recording at its place, and was judged",
			vehicle: one, rate: fullBus, prepare: inMemory,
			make: func(tr *trial) {
				tr.begins()
				tr.fill(filepath.Join(tr.dir, "disk", "ballast"), 110)
				tr.hears(tr.fault.says[:2]...)
				tr.wires[0].set(func() { tr.wires[0].flood = 9 })
				tr.hears(tr.fault.says[2])
				tr.wires[0].set(func() { tr.wires[0].flood = 0 })
				tr.mends(func() { tr.remove(filepath.Join(tr.dir, "disk", "ballast")) })
			},
		},
		{
			name:    "disk without room behind it",
			how:     "a disk that says it has room and fails each sync (ENOSPC), as thinly provisioned ones do; then there is room again",
			says:    []saying{stopped, {inLog, "no space left on device"}, counted},
			vehicle: one, prepare: thin,
			make: func(tr *trial) {
				tr.begins()
				tr.fill(filepath.Join(tr.dir, "back", "ballast"), 40)
				tr.hears(tr.fault.says...)
				tr.mends(func() { tr.remove(filepath.Join(tr.dir, "back", "ballast")) })
			},
		},
		{
			name:    "disk gives errors",
			how:     "the file system is shut down under the recorder: each call fails (EIO), as of a disk that was pulled; then it is mounted anew",
			says:    []saying{stopped, {inLog, "input/output error"}, counted},
			loses:   "recorder",
			note:    "counted as lost is what was written in the last half second and never synced; the disk may have some of it all the same",
			vehicle: one, prepare: inFile, survives: true,
			make: func(tr *trial) {
				tr.begins()
				tr.safe()
				tr.shutDown()
				tr.hears(tr.fault.says...)
				tr.mends(tr.mountAgain)
			},
		},
		{
			name:    "disk read-only",
			how:     "the kernel finds an error in the file system and makes it read-only (EROFS); then it is mounted anew",
			says:    []saying{stopped, {inLog, "read-only file system"}, counted},
			loses:   "recorder",
			note:    "counted as lost is what was written in the last half second and never synced; the disk may have some of it all the same",
			vehicle: one, prepare: inFile, survives: true,
			make: func(tr *trial) {
				tr.begins()
				tr.safe()
				name, err := filepath.Glob("/sys/fs/ext4/" + filepath.Base(tr.device()) + "/trigger_fs_error")
				if err != nil || len(name) != 1 {
					tr.Fatalf("no way to make an error in the file system: %v, %v", name, err)
				}
				put(tr.T, name[0], "1")
				tr.hears(tr.fault.says...)
				tr.mends(tr.mountAgain)
			},
		},
		{
			name:    "disk stands still",
			how:     "the disk takes nothing and returns from no call for 4 s (frozen file system), with a full bus",
			note:    "nobody waits for the disk but the recorder; what is heard meanwhile waits in memory",
			vehicle: one, rate: fullBus, prepare: inFile,
			make: func(tr *trial) {
				tr.begins()
				disk := filepath.Join(tr.dir, "disk")
				tr.command("fsfreeze", "-f", disk)
				heard := func(l *look) int64 { return tr.heard(l, tr.wires[0]) }
				from, _ := tr.watch.newest()
				time.Sleep(4 * time.Second)
				to, _ := tr.watch.newest()
				tr.command("fsfreeze", "-u", disk)
				tr.ends()
				if from == nil || to == nil || heard(to) <= heard(from) {
					tr.Error("nothing was heard while the disk stood still")
				}
				tr.until("what waited to be written", func(l *look) bool {
					return l.metrics[`plumbline_source_written_frames_total{source="wheels"}`] >= float64(heard(to))
				})
			},
		},
		{
			name:    "busy disk beside a full bus",
			how:     "8,000 frames/s are heard and recorded while another program writes 16 MiB at a time to the same disk and syncs it, for 4 s",
			note:    "the disk of the test machine",
			vehicle: one, rate: fullBus,
			make: func(tr *trial) {
				tr.begins()
				name := filepath.Join(tr.dir, "busy")
				block := make([]byte, 16<<20)
				for time.Since(tr.began) < 4*time.Second {
					f, err := os.Create(name)
					if err != nil {
						tr.Fatal(err)
					}
					if _, err := f.Write(block); err != nil {
						tr.Fatal(err)
					}
					if err := f.Sync(); err != nil {
						tr.Fatal(err)
					}
					_ = f.Close()
				}
				tr.ends()
				tr.remove(name)
			},
		},
	}
}

// root skips a trial that needs to mount something; on a CI machine, which can, it fails.
func (tr *trial) root() {
	tr.Helper()
	if os.Geteuid() == 0 {
		return
	}
	if os.Getenv("CI") == "true" {
		tr.Fatal("not root: file systems cannot be mounted")
	}
	tr.Skip("not root: file systems cannot be mounted")
}

// command runs a program of the system.
func (tr *trial) command(name string, args ...string) string {
	tr.Helper()
	// what frees a disk again must run where the test has been ended as well
	out, err := exec.CommandContext(context.WithoutCancel(tr.Context()), name, args...).CombinedOutput()
	if err != nil {
		tr.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// mount mounts below the trial's folder and takes it away at its end.
func (tr *trial) mount(to string, args ...string) string {
	tr.Helper()
	tr.root()
	to = filepath.Join(tr.dir, to)
	if err := os.MkdirAll(to, 0o750); err != nil {
		tr.Fatal(err)
	}
	tr.command("mount", append(args, to)...)
	tr.freed = append(tr.freed, func() {
		_ = exec.CommandContext(context.WithoutCancel(tr.Context()), "fsfreeze", "-u", to).Run()  // where it still is
		if err := unix.Unmount(to, unix.MNT_DETACH); err != nil && !errors.Is(err, unix.EINVAL) { // that is not mounted
			tr.Errorf("unmount %s: %v", to, err)
		}
	})
	return to
}

// inMemory has it record to a disk in memory. The recorder leaves 64 MiB free, and begins again at a quarter more;
// what is not used costs no memory.
func inMemory(tr *trial) {
	tr.record = filepath.Join(tr.mount("disk", "-t", "tmpfs", "-o", "size=160m", "plumbline-test"), "recording")
}

// inFile has it record to a disk that is a file in memory, with a file system that stops at an error.
func inFile(tr *trial) { tr.image("200m", "300M", "-t", "ext4", "-O", "^has_journal", "-N", "64") }

// thin has it record to a disk that is a file without room to grow to its size.
func thin(tr *trial) { tr.image("32m", "300M", "-t", "ext2", "-N", "64") }

func (tr *trial) image(room, size string, kind ...string) {
	tr.Helper()
	image := filepath.Join(tr.mount("back", "-t", "tmpfs", "-o", "size="+room, "plumbline-test"), "image")
	tr.command("truncate", "-s", size, image)
	tr.command("mke2fs", append(append([]string{"-q", "-F", "-m", "0"}, kind...), image)...)
	how := "loop,errors=remount-ro"
	if kind[1] == "ext2" {
		how = "loop,errors=continue"
	}
	tr.record = filepath.Join(tr.mount("disk", "-o", how, image), "recording")
}

// device is what the disk of the trial is on.
func (tr *trial) device() string {
	tr.Helper()
	name, _, _ := strings.Cut(tr.command("losetup", "-j", filepath.Join(tr.dir, "back", "image")), ":")
	return name
}

// shutDown makes every call to the disk fail from now on (EXT4_IOC_SHUTDOWN of linux/fs/ext4/ext4.h, without flushing).
func (tr *trial) shutDown() {
	tr.Helper()
	const shutdown, noLogFlush = 0x8004587D, 2
	f, err := os.Open(filepath.Join(tr.dir, "disk"))
	if err != nil {
		tr.Fatal(err)
	}
	defer f.Close()
	if err := unix.IoctlSetPointerInt(int(f.Fd()), shutdown, noLogFlush); err != nil {
		tr.Fatalf("the file system cannot be shut down: %v", err)
	}
}

// mountAgain mounts the disk of the trial anew, which the recorder must not hold up for long.
func (tr *trial) mountAgain() {
	tr.Helper()
	disk, image := filepath.Join(tr.dir, "disk"), filepath.Join(tr.dir, "back", "image")
	give := time.Now().Add(patience)
	for {
		err := unix.Unmount(disk, 0)
		if err == nil {
			break
		}
		if time.Now().After(give) {
			tr.Fatalf("the disk is still in use: %v", err)
		}
		time.Sleep(20 * time.Millisecond)
	}
	if out, err := exec.CommandContext(tr.Context(), "e2fsck", "-fy", image).CombinedOutput(); err != nil && !strings.Contains(err.Error(), "exit status 1") { // 1: mended
		tr.Fatalf("e2fsck: %v\n%s", err, out)
	}
	tr.command("mount", "-o", "loop,errors=remount-ro", image, disk)
}

// mends ends the fault.
func (tr *trial) mends(mend func()) {
	tr.Helper()
	mend()
	tr.ends()
}

// fill puts a file of so many MiB, or of as many as there is room for, on a disk.
func (tr *trial) fill(name string, mib int) {
	tr.Helper()
	f, err := os.Create(name)
	if err != nil {
		tr.Fatal(err)
	}
	defer f.Close()
	block := make([]byte, 1<<20)
	for range mib {
		if _, err := f.Write(block); err != nil {
			return // full is what was wanted
		}
	}
}

func (tr *trial) remove(name string) {
	tr.Helper()
	if err := os.Remove(name); err != nil {
		tr.Fatal(err)
	}
}
