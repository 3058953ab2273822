package logs

import (
	"errors"
	"io/fs"
	"os"
)

// Regular opens a file that is one, by Open or as a test has it: a folder holds no lines, a pipe or
// a device would never end.
func Regular(path string, open func(string) (*os.File, error)) (*os.File, fs.FileInfo, error) {
	info, err := os.Stat(path)
	if err == nil {
		err = regular(path, info)
	}
	if err != nil {
		return nil, nil, err
	}
	h, err := open(path)
	if err != nil {
		return nil, nil, err
	}
	if info, err = h.Stat(); err == nil {
		err = regular(path, info) // another may stand there by now
	}
	if err != nil {
		h.Close()
		return nil, nil, err
	}
	return h, info, nil
}

func regular(path string, info fs.FileInfo) error {
	if info.Mode().IsRegular() {
		return nil
	}
	return &fs.PathError{Op: "open", Path: path, Err: errors.New("this is no file but " + kindOf(info.Mode()))}
}

func kindOf(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeDevice != 0:
		return "a device"
	case m&fs.ModeSocket != 0:
		return "a socket"
	}
	return "something else"
}
