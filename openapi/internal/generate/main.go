// Command generate writes openapi/openapi.json from the comments of the handlers.
//
// It runs swag on ./api and ./domain, adds the list of codes from the constants of domain, hands what it reads to package convert together with openapi/overlay.json,
// and writes the result. With -check it writes nothing and fails if the committed file differs.
//
//	go run ./openapi/internal/generate [-check]
//
// It is run from the root of the module, by make generate and make verify.
package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"

	"delaybook/openapi/internal/convert"
)

const (
	documentFile = "openapi/openapi.json"
	overlayFile  = "openapi/overlay.json"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	check := flag.Bool("check", false, "fail if "+documentFile+" is stale, instead of writing it")
	flag.Parse()
	if err := run(ctx, ".", *check); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, root string, check bool) error {
	if err := checkInstants(root, "api"); err != nil {
		return err
	}
	swagger, err := runSwag(ctx, root)
	if err != nil {
		return err
	}
	if swagger, err = addCodes(root, swagger); err != nil {
		return err
	}
	overlay, err := os.ReadFile(filepath.Join(root, overlayFile))
	if err != nil {
		return err
	}
	document, err := convert.Document(swagger, overlay)
	if err != nil {
		return err
	}
	target := filepath.Join(root, documentFile)
	if !check {
		return os.WriteFile(target, document, 0o644)
	}
	committed, err := os.ReadFile(target)
	if err != nil {
		return err
	}
	return compare(committed, document)
}

// runSwag answers the Swagger 2.0 document of the handlers. The search folders are named, because following
// dependencies instead gives the same document in many times the time.
func runSwag(ctx context.Context, root string) ([]byte, error) {
	out, err := os.MkdirTemp("", "swagger-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(out)
	swag := exec.CommandContext(ctx, "go", "tool", "-modfile=.ci/tools/go.mod", "swag", "init", "--quiet",
		"--generalInfo", "server.go", "--dir", "api,domain", "--requiredByDefault",
		"--outputTypes", "json", "--output", out)
	swag.Dir = root
	if said, err := swag.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("swag: %w\n%s", err, bytes.TrimSpace(said))
	}
	return os.ReadFile(filepath.Join(out, "swagger.json"))
}

// compare reports the first line in which the committed document differs from the fresh one.
func compare(committed, fresh []byte) error {
	if bytes.Equal(committed, fresh) {
		return nil
	}
	old, now := bytes.Split(committed, []byte("\n")), bytes.Split(fresh, []byte("\n"))
	line := 0
	for line < min(len(old), len(now)) && bytes.Equal(old[line], now[line]) {
		line++
	}
	return fmt.Errorf("%s is stale from line %d: run make generate and commit the result", documentFile, line+1)
}
