package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"gatefold/review"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

func deskCommand(a *app) *cobra.Command {
	var listen, network, languageFile string
	var tlsFiles tlsPair
	var openNone bool
	c := &cobra.Command{
		Use:   "desk RACE",
		Short: "Open the page where a person settles what waits and takes the draft",
		Long: `Serves a page on this laptop: which cards are in and which are missing, the entries that
only a person can settle, the questions of the rules, and the draft for the referee.

Nobody is shown what the machine read before they have typed what they see. The page is
reachable from this laptop only, needs no internet, and works with the keyboard alone:
press ? on it for the keys. Stop it with Ctrl-C; everything settled is kept.

With --network, phones can come in from the local network too, each with a code that the
page shows under Phones: to take photos, to settle, or only to view. It is plain HTTP: do
this only in a network with a password that your own people know. If you have a certificate
that the phones believe, name it with --tls-cert and --tls-key: then it is HTTPS.

A race has one desk at a time. Two people take turns at it under their own names; photos
may be added with gatefold collect while it is open.`,
		Example: "  gatefold desk demo/race\n  gatefold desk demo/race --listen 127.0.0.1:8080 --open-none\n  gatefold desk demo/race --network",
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.desk(c.Context(), args[0], listen, network, languageFile, tlsFiles, !openNone)
		},
	}
	c.Flags().StringVar(&listen, "listen", "127.0.0.1:0", "address of this laptop alone to listen on; port 0 takes a free one")
	c.Flags().StringVar(&network, "network", "", "also let phones in, by codes, on this address (\""+phonesAddress+"\" if none is given: all of this laptop's)")
	c.Flags().Lookup("network").NoOptDefVal = phonesAddress
	c.Flags().StringVar(&tlsFiles.cert, "tls-cert", "", "with --network: a certificate, and those that vouch for it, in PEM")
	c.Flags().StringVar(&tlsFiles.key, "tls-key", "", "with --network: the certificate's private key, in PEM")
	c.Flags().StringVar(&languageFile, "language", "", "a file with the pages' texts in another language, in PO format; what it lacks stays English (without this: language in race.yaml)")
	c.Flags().BoolVar(&openNone, "open-none", false, "don't open a browser, only print the address")
	return c
}

// desk serves the page until ctx ends.
func (a *app) desk(ctx context.Context, dir, listen, network, languageFile string, files tlsPair, browse bool) (err error) {
	cert, err := files.load(network, a.now())
	if err != nil {
		return err
	}
	s, err := a.openRace(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	language, err := readLanguage(languageFile, dir, s.folder.Race())
	if err != nil {
		return err
	}
	lease, err := takeDeskLease(dir, a.now())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lease.Close()) }()
	layouts, err := s.layouts()
	if err != nil {
		return err
	}
	current := &currentRace{dir: dir, race: s.folder.Race(), stamp: stampOf(dir)}
	opt := review.Options{Race: current.get, Store: s.store, Layout: layouts, Now: a.now, Random: rand.Reader, Host: hostName(listen), Language: language}
	opt.Blank = func(hash string, side sheetmodel.SideName) string {
		l := layouts(hash)
		if l == nil || marked(l) {
			return ""
		}
		return filepath.Join(dir, filepath.FromSlash(racefolder.BlankFile(l, side)))
	}
	phones, err := a.listenForPhones(ctx, network)
	if err != nil {
		return err
	}
	if phones != nil {
		defer phones.Close() //nolint:errcheck // its server has closed it, or nothing was served yet
		opt.Network = a.networkOf(phones, cert)
		taker, err := newDeskTaker(ctx, s.store, current.get, a.complain)
		if err != nil {
			return err
		}
		defer taker.start(ctx)()
		opt.Taker, opt.SavePlace = taker, savePlaceIn(dir)
	}
	d, err := review.New(ctx, opt)
	if err != nil {
		return err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", listen)
	if err != nil {
		return fmt.Errorf("address %s: %w; choose another with --listen", listen, err)
	}
	if at, ok := l.Addr().(*net.TCPAddr); ok && !at.IP.IsLoopback() {
		return errors.Join(usageErrorf("--listen %s: others in the network could open the desk there without a code; let phones in with --network instead", listen), l.Close())
	}
	address := "http://" + l.Addr().String() + "/"
	if err = lease.say(address, a.now()); err != nil {
		return errors.Join(err, l.Close())
	}
	if note := lease.takenOver(); note != "" {
		a.printf("note: %s\n", note)
	}
	a.printf("the desk is open at %s (Ctrl-C closes it)\n", address)
	if browse {
		openBrowser(ctx, address)
	}
	serving := []served{{review.HTTP(d.Handler()), l}}
	if phones != nil {
		serving = append(serving, servedToPhones(review.PhoneHTTP(d.PhoneHandler()), phones, cert))
		a.printf("phones come in at %s, with a code from the page %sphones\n", strings.Join(opt.Network.Addresses(), " or "), address)
	}
	for _, s := range serving {
		s.server.RegisterOnShutdown(d.HangUp)
	}
	if err = serveAll(ctx, serving); err != nil {
		return err
	}
	a.printf("the desk is closed; everything settled is kept\n")
	return nil // closing it is how it ends
}

// served is a server and where it listens.
type served struct {
	server *http.Server
	on     net.Listener
}

// serveAll serves until ctx ends or one of the servers fails, and then ends all of them.
func serveAll(ctx context.Context, all []served) error {
	ended := make(chan error, len(all))
	for _, s := range all {
		go func() { ended <- s.server.Serve(s.on) }()
	}
	var errs []error
	running := len(all)
	select {
	case err := <-ended:
		running--
		errs = append(errs, err)
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	for _, s := range all {
		errs = append(errs, s.server.Shutdown(last))
	}
	for range running {
		if err := <-ended; !errors.Is(err, http.ErrServerClosed) {
			errs = append(errs, err)
		}
	}
	return errors.Join(errs...)
}

// hostName is the name in an address to listen on, empty if there is a number or nothing.
func hostName(listen string) string {
	host, _, err := net.SplitHostPort(listen)
	if err != nil || net.ParseIP(host) != nil {
		return ""
	}
	return host
}

// currentRace reads the race folder again when one of its files has changed: judges are placed, and
// lists are handed in, while the desk is open.
type currentRace struct {
	dir string

	mu    sync.Mutex
	race  *sheetmodel.Race
	stamp string
}

func (c *currentRace) get() (*sheetmodel.Race, error) {
	stamp := stampOf(c.dir) // before the lock, so that nobody waits for another's look at the disk
	c.mu.Lock()
	defer c.mu.Unlock()
	if stamp == c.stamp {
		return c.race, nil
	}
	if stamp = stampOf(c.dir); stamp == c.stamp {
		return c.race, nil // somebody else has read it meanwhile
	}
	folder, err := racefolder.Open(c.dir)
	if err != nil {
		return nil, err
	}
	c.race, c.stamp = folder.Race(), stamp
	return c.race, nil
}

// stampOf tells one state of a race's own files from another.
func stampOf(dir string) string {
	var stamp string
	for _, pattern := range []string{"*.yaml", "*.csv"} {
		files, err := filepath.Glob(filepath.Join(dir, pattern))
		if err != nil {
			continue // the patterns are fixed and sound
		}
		for _, file := range files {
			if info, err := os.Stat(file); err == nil {
				stamp += fmt.Sprintf("%s %d %d\n", file, info.Size(), info.ModTime().UnixNano())
			}
		}
	}
	return stamp
}

// openBrowser shows the page, where it can; the address is printed anyway.
func openBrowser(ctx context.Context, address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	if err := exec.CommandContext(ctx, name, args...).Start(); err != nil {
		return // no browser here: the person has the address
	}
}
