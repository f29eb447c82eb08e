//go:build unix

// Package cluster starts a PostgreSQL server of a test's own, in a folder that goes with the test.
//
// The server listens on a socket in that folder only. It is run as a user without rights, for it refuses to
// be root. It does not know what is kept in it.
package cluster

import (
	"bytes"
	"context"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// programs is where Debian puts the server's programs, which it keeps out of the path.
const programs = "/usr/lib/postgresql/*/bin"

// Cluster is a running server.
type Cluster struct {
	dir  string
	user string
}

// Start starts a server and stops it when the test ends. Where PostgreSQL isn't installed, or nobody but root is
// there to run it, the test is skipped.
func Start(t testing.TB) *Cluster {
	t.Helper()
	initdb, server := program("initdb"), program("postgres")
	if initdb == "" || server == "" {
		t.Skip("PostgreSQL's server isn't installed (Debian: postgresql); CI=1 .ci/packages test installs it")
	}
	// Not the test's own folder: the user below couldn't get into it. A socket's path is short as well.
	dir, err := os.MkdirTemp("", "gatefold-pg-") //nolint:usetesting // for the reasons above
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	c := &Cluster{dir: dir, user: "gatefold"}
	as := c.other(t)
	run := exec.CommandContext(context.Background(), initdb, "-D", filepath.Join(dir, "data"), "-U", c.user, "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
	run.Dir, run.SysProcAttr = dir, &syscall.SysProcAttr{Credential: as}
	out, err := run.CombinedOutput()
	require.NoError(t, err, "%s", out)

	var said bytes.Buffer
	serve := exec.CommandContext(context.Background(), server, "-D", filepath.Join(dir, "data"), "-k", dir, "-c", "listen_addresses=", "-c", "max_connections=60", "-c", "fsync=off")
	serve.Dir, serve.Stderr, serve.SysProcAttr = dir, &said, &syscall.SysProcAttr{Credential: as}
	require.NoError(t, serve.Start())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		err = serve.Wait()
	}()
	t.Cleanup(func() {
		_ = serve.Process.Signal(syscall.SIGINT) // fast shutdown; it may have ended by itself
		<-ended
	})
	ready := filepath.Join(dir, ".s.PGSQL.5432")
	for range 300 {
		if _, there := os.Stat(ready); there == nil && exec.CommandContext(context.Background(), program("pg_isready"), "-q", "-h", dir).Run() == nil {
			return c
		}
		select {
		case <-ended:
			require.FailNow(t, "the server ended", "%v\n%s", err, said.String())
		case <-time.After(100 * time.Millisecond):
		}
	}
	require.FailNow(t, "the server did not get ready")
	return nil
}

// Address names a schema in the server, as a race folder names it.
func (c *Cluster) Address(schema string) string {
	return "postgres:///postgres?" + url.Values{"host": {c.dir}, "user": {c.user}, "search_path": {schema}}.Encode()
}

// other is whom the server runs as: nobody in particular, but not root. The folder becomes theirs.
func (c *Cluster) other(t testing.TB) *syscall.Credential {
	if os.Getuid() != 0 {
		return nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		if err1 == nil && err2 == nil && os.Chown(c.dir, int(uid), int(gid)) == nil {
			return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		}
	}
	t.Skip("PostgreSQL refuses to run as root, and no other user is known here")
	return nil
}

func program(name string) string {
	if path, err := exec.LookPath(name); err == nil {
		return path
	}
	found, _ := filepath.Glob(filepath.Join(programs, name))
	if len(found) == 0 {
		return ""
	}
	return found[len(found)-1]
}
