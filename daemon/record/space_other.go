//go:build !linux && !darwin && !windows

package record

import "errors"

const noDirSync = false

// space cannot tell here; a full disk is found out by writing.
func space(string) (free, total uint64, err error) { return 0, 0, errors.ErrUnsupported }

// links cannot tell here.
func links(string) (uint64, error) { return 0, errors.ErrUnsupported }
