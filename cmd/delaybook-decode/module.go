// SPDX-License-Identifier: GPL-3.0-or-later

package main

import (
	"context"
	"fmt"
	"io"

	"codeberg.org/gruf/go-ffmpreg/embed"
	"codeberg.org/gruf/go-ffmpreg/wasm"
	"github.com/tetratelabs/wazero"
	"github.com/tetratelabs/wazero/experimental"
)

// memoryPages bounds the module's memory: 6144 pages of 64 KiB, 384 MiB.
const memoryPages = 6144

// carryOut compiles or loads the module and runs it as the order says. It answers the module's exit code.
func (o order) carryOut(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer) (int, error) {
	mounts, err := o.mounts()
	if err != nil {
		return exitRefused, err
	}
	runtime, module, err := compile(ctx, o.cache)
	if err != nil {
		return exitRefused, err
	}
	if o.kind == "compile" {
		return 0, nil
	}
	args := wasm.Args{
		Name: "ffmpeg", Args: o.arguments, Stdout: stdout, Stderr: stderr,
		Config: func(c wazero.ModuleConfig) wazero.ModuleConfig { return c.WithFSConfig(mounts) },
	}
	if o.kind == "probe" {
		args.Name = "ffprobe"
	}
	if o.kind == "encode" {
		args.Stdin = stdin
	}
	code, err := wasm.Run(ctx, runtime, module, args)
	if err != nil {
		return exitRefused, fmt.Errorf("the decoder stopped: %w", err)
	}
	return int(code), nil
}

// compile loads the module from the cache, or compiles it into it with one worker, which takes long but little
// memory. The runtime is not closed by the context: checking for that multiplies the time to decode, so the process
// has to be killed instead.
func compile(ctx context.Context, folder string) (wazero.Runtime, wazero.CompiledModule, error) {
	release, err := openCache(folder)
	if err != nil {
		return nil, nil, err
	}
	defer release()
	cache, err := wazero.NewCompilationCacheWithDir(folder)
	if err != nil {
		return nil, nil, fmt.Errorf("open the cache of the compiled decoder: %w", err)
	}
	ctx = experimental.WithCompilationWorkers(ctx, 1)
	config := wazero.NewRuntimeConfigCompiler().WithMemoryLimitPages(memoryPages).WithCompilationCache(cache)
	runtime, err := wasm.NewRuntime(ctx, config)
	if err != nil {
		return nil, nil, fmt.Errorf("start the WebAssembly runtime: %w", err)
	}
	module, err := runtime.CompileModule(ctx, embed.B())
	if err != nil {
		return nil, nil, fmt.Errorf("compile the decoder: %w", err)
	}
	embed.Free()
	return runtime, module, nil
}
