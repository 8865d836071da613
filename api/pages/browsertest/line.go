package browsertest

import (
	"net"
	"sync"
	"time"

	"github.com/chromedp/cdproto/network"
)

// A line is a network that can be cut: connections that stand break, new ones
// are closed at once.
type line struct {
	net.Listener
	mu   sync.Mutex
	cut  bool
	rate int // bytes a second that one connection sends to the site; 0: as many as it can
	open map[net.Conn]bool
}

// Accept takes the next connection, as [net.Listener] has it.
func (l *line) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		l.mu.Lock()
		cut := l.cut
		if !cut {
			l.open[c] = true
		}
		l.mu.Unlock()
		if !cut {
			return &end{c, l}, nil
		}
		_ = c.Close()
	}
}

// An end of a line takes itself off when it is closed.
type end struct {
	net.Conn
	line *line
}

// Close closes the connection.
func (e *end) Close() error {
	e.line.mu.Lock()
	delete(e.line.open, e.Conn)
	e.line.mu.Unlock()
	return e.Conn.Close()
}

// Read reads no faster than the line is.
func (e *end) Read(b []byte) (int, error) {
	e.line.mu.Lock()
	rate := e.line.rate
	e.line.mu.Unlock()
	if rate == 0 {
		return e.Conn.Read(b)
	}
	const piece = 4096
	n, err := e.Conn.Read(b[:min(len(b), piece)])
	time.Sleep(time.Duration(n) * time.Second / time.Duration(rate))
	return n, err
}

// Slow lets each connection send no more than so many bytes a second to the site.
func (s *Site) Slow(rate int) {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	s.line.rate = rate
}

// Cut breaks the network between all phones and the site, which browsers do not
// notice before they try. Mend lets them through again.
func (s *Site) Cut() {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	s.line.cut = true
	for c := range s.line.open {
		_ = c.Close()
	}
}

// Mend undoes Cut.
func (s *Site) Mend() {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	s.line.cut = false
}

// Offline cuts the network and lets the phone know, as in flight mode.
func (p *Phone) Offline() {
	p.tb.Helper()
	p.site.Cut()
	p.know(true)
}

// Online undoes Offline.
func (p *Phone) Online() {
	p.tb.Helper()
	p.site.Mend()
	p.know(false)
}

func (p *Phone) know(offline bool) {
	p.tb.Helper()
	const unbounded = -1
	call(p, network.OverrideNetworkState, network.OverrideNetworkStateParams{
		Offline: offline, DownloadThroughput: unbounded, UploadThroughput: unbounded,
	})
}

// Block lets no request of the phone's pages to a path through; * stands for anything.
func (p *Phone) Block(path string) {
	p.tb.Helper()
	call(p, network.SetBlockedURLs, network.SetBlockedURLsParams{
		URLPatterns: []*network.BlockPattern{{URLPattern: "*://*:*" + path, Block: true}},
	})
}
