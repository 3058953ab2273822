//go:build !windows

package outbox

import "github.com/google/renameio/v2"

// Replace puts data in a file's place, whole or not at all.
func Replace(path string, data []byte) error { return renameio.WriteFile(path, data, 0o600) }
