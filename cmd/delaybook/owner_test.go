package main

import (
	"net/http"
	"strconv"
	"strings"
	"testing"
)

func TestOnlyOneServiceOwnsADataFolder(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	p := start(t, "serve", "--data", dir)

	second, errs := command(t.Context(), "serve", "--data", dir, "--listen", "127.0.0.1:0")
	out, err := second.Output()
	if code := second.ProcessState.ExitCode(); err == nil || code != exitRefused {
		t.Errorf("a second serve: exit code %d, want %d", code, exitRefused)
	}
	if owner := strconv.Itoa(p.cmd.Process.Pid); !strings.Contains(errs.String(), owner) || len(out) > 0 {
		t.Errorf("a second serve said %q and %q, want an error that names process %s", out, errs, owner)
	}

	key := say(t, "key", "create", "--data", dir, "--role", "reader", "--label", "a script")
	if status, answer, err := p.call(t.Context(), key, http.MethodGet, "/v1/devices", nil); err != nil || status != http.StatusOK {
		t.Errorf("a key made meanwhile: status %d, %v, %v", status, answer, err)
	}
}

func TestCommandsSayWhatIsWrong(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{nil, exitUsage, "a command is missing"},
		{[]string{"sreve"}, exitUsage, "sreve"},
		{[]string{"serve", "--tls-cert", "x.pem"}, exitUsage, "go together"},
		{[]string{"demo", "--listen", "0.0.0.0:8080"}, exitUsage, "127.0.0.1"},
		{[]string{"key"}, exitUsage, "create"},
		{[]string{"key", "create"}, exitUsage, "--role"},
		{[]string{"convert", "--frames", "5"}, exitUsage, "rate"},
		{[]string{"plan", "no-such-file.json"}, exitRefused, "no-such-file.json"},
	} {
		cmd, errs := command(t.Context(), c.args...)
		_ = cmd.Run()
		if code := cmd.ProcessState.ExitCode(); code != c.code || !strings.Contains(errs.String(), c.says) {
			t.Errorf("%v: exit code %d, %q; want %d and %q", c.args, code, errs, c.code, c.says)
		}
	}
}
