package main

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"delaybook/cmd/internal/decoder"
	"delaybook/cmd/internal/decoder/decodertest"
)

// BenchmarkClip measures what a crew waits for: from the answer to the upload of 20 s of 1920x1080 at 29.97 in H.264 at 12 Mb/s
// until its result is stored, served by a process; beside it the same decoder alone in the process of the benchmark, and
// an FFmpeg that decodes and writes nothing. It reports seconds, processor seconds and the most memory of the process and
// its children together.
func BenchmarkClip(b *testing.B) {
	file := bigClip(b)
	b.Run("bare-ffmpeg", func(b *testing.B) {
		before := cpu(b, syscall.RUSAGE_CHILDREN)
		for b.Loop() {
			out, err := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-threads", "1", "-i", file, "-f", "null", "-").CombinedOutput()
			if err != nil {
				b.Fatalf("%v\n%s", err, out)
			}
		}
		b.ReportMetric((cpu(b, syscall.RUSAGE_CHILDREN)-before).Seconds()/float64(b.N), "cpu-s/op")
	})
	for name, native := range map[string]string{"native": "ffmpeg", "builtin": ""} {
		b.Run(name+"-decoder", func(b *testing.B) { benchmarkDecoder(b, native, file) })
		b.Run(name+"-whole", func(b *testing.B) { benchmarkServed(b, native, file) })
	}
}

// bigClip is the card over noise, at the bit rate of a phone.
func bigClip(b *testing.B) string {
	at := []float64{0.9, 1.716, 2.904, 3.827, 4.821, 6.13, 7.369, 8.512, 9.884, 10.945, 11.706, 12.57, 13.271, 14.087, 15.275, 16.198, 17.192, 18.501}
	var on, beep []string
	for _, t := range at {
		start := strconv.FormatFloat(t, 'f', 3, 64)
		on = append(on, "between(t,"+start+","+strconv.FormatFloat(t+0.16, 'f', 3, 64)+")")
		beep = append(beep, "between(t,"+start+","+strconv.FormatFloat(t+0.06, 'f', 3, 64)+")")
	}
	file := filepath.Join(b.TempDir(), "big.mp4")
	out, err := exec.Command("ffmpeg", "-v", "error", "-nostdin", "-y",
		"-f", "lavfi", "-i", "testsrc2=s=1920x1080:r=30000/1001:d=20,noise=alls=12:allf=t,"+
			"drawbox=600:300:700:500:black:fill,drawbox=600:300:700:500:white:fill:enable='"+strings.Join(on, "+")+"'",
		"-f", "lavfi", "-i", "aevalsrc='0.3*sin(2*PI*2000*t)*("+strings.Join(beep, "+")+")':s=48000:d=20",
		"-c:v", "libx264", "-preset", "veryfast", "-b:v", "12M", "-pix_fmt", "yuv420p", "-c:a", "aac", file).CombinedOutput()
	if err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	return file
}

func cpu(b *testing.B, who int) time.Duration {
	var usage syscall.Rusage
	if err := syscall.Getrusage(who, &usage); err != nil {
		b.Fatal(err)
	}
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}

func benchmarkDecoder(b *testing.B, native, file string) {
	o := decoder.Options{Native: native}
	if native == "" {
		o.Program, o.CacheDir = decodertest.Program(b), decodertest.Cache(b)
	}
	d, err := decoder.Open(o)
	if err != nil {
		b.Fatal(err)
	}
	if err := d.Warm(b.Context()); err != nil {
		b.Fatal(err)
	}
	before := cpu(b, syscall.RUSAGE_CHILDREN)
	own := cpu(b, syscall.RUSAGE_SELF)
	for b.Loop() {
		if r, err := d.Decode(b.Context(), file, decoder.DecodeOptions{}, nil); err != nil || len(r.Video.PTS) != 600 {
			b.Fatal(err)
		}
	}
	b.ReportMetric((cpu(b, syscall.RUSAGE_CHILDREN)-before).Seconds()/float64(b.N), "decoder-cpu-s/op")
	b.ReportMetric((cpu(b, syscall.RUSAGE_SELF)-own).Seconds()/float64(b.N), "own-cpu-s/op")
}

func benchmarkServed(b *testing.B, native, file string) {
	data := folder(b)
	args := []string{"serve", "--data", data}
	if native != "" {
		args = append(args, "--decoder", native)
	} else {
		program := decodertest.Program(b)
		beside := filepath.Join(filepath.Dir(os.Args[0]), "delaybook-decode")
		if err := os.Symlink(program, beside); err != nil && !os.IsExist(err) {
			b.Fatal(err)
		}
	}
	p := start(b, args...)
	admin := say(b, "key", "create", "--role", "admin", "--data", data)
	p.addHall(b, admin)
	if native == "" {
		waitForCache(b, filepath.Join(data, "decoder"))
	}
	most := watchMemory(b, p.cmd.Process.Pid)
	spent := time.Duration(0)
	for b.Loop() {
		b.StopTimer()
		clip := p.upload(b, admin, file, map[string]string{"picture": "cam-1", "sound": "lectern", "settings": "lectern-delay=0"})
		before := ticks(b, p.cmd.Process.Pid)
		b.StartTimer()
		for {
			c := p.must(b, admin, http.MethodGet, "/v1/clips/"+clip["id"].(string), nil)
			if c["state"] == "done" {
				break
			}
			if c["state"] != "queued" && c["state"] != "analysing" {
				b.Fatalf("the clip is %v: %v", c["state"], c["result"])
			}
			time.Sleep(250 * time.Millisecond)
		}
		spent += ticks(b, p.cmd.Process.Pid) - before
	}
	b.ReportMetric(spent.Seconds()/float64(b.N), "cpu-s/op")
	b.ReportMetric(float64(most()), "peak-MiB")
}

// waitForCache waits until the compiled decoder lies in its folder: the service compiles it once, at its first start.
func waitForCache(b *testing.B, folder string) {
	for end := time.Now().Add(3 * time.Minute); time.Now().Before(end); time.Sleep(500 * time.Millisecond) {
		size := int64(0)
		_ = filepath.Walk(folder, func(_ string, info os.FileInfo, err error) error {
			if err == nil && info.Mode().IsRegular() {
				size += info.Size()
			}
			return nil
		})
		if size > 10<<20 {
			time.Sleep(3 * time.Second)
			return
		}
	}
	b.Fatal("the decoder is not compiled after three minutes")
}

// stat returns the fields of /proc/PID/stat from the third on: see proc(5).
func stat(pid int) []string {
	text, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
	if err != nil {
		return nil
	}
	return strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
}

// ticks is the time of the processor of a process and of its children that have ended, in hundredths of a second.
func ticks(b *testing.B, pid int) time.Duration {
	f := stat(pid)
	if len(f) < 15 {
		b.Fatal("the process has ended")
	}
	sum := 0
	for _, field := range f[11:15] {
		n, err := strconv.Atoi(field)
		if err != nil {
			b.Fatal(err)
		}
		sum += n
	}
	return time.Duration(sum) * 10 * time.Millisecond
}

// watchMemory looks at the resident memory of a process and its children ten times a second. Its database, which is
// the same without recordings, does not count.
func watchMemory(b *testing.B, pid int) (mostMiB func() int) {
	var mu sync.Mutex
	most := 0
	done := make(chan struct{})
	b.Cleanup(func() { close(done) })
	go func() {
		for {
			n := resident(pid)
			mu.Lock()
			most = max(most, n)
			mu.Unlock()
			select {
			case <-done:
				return
			case <-time.After(100 * time.Millisecond):
			}
		}
	}()
	return func() int {
		mu.Lock()
		defer mu.Unlock()
		return most
	}
}

// resident is the memory of a process and what descends from it, MiB.
func resident(pid int) int {
	name, _ := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/comm")
	if strings.HasPrefix(string(name), "postgres") {
		return 0
	}
	sum := 0
	if f := stat(pid); len(f) > 21 {
		pages, _ := strconv.Atoi(f[21])
		sum = pages * os.Getpagesize() >> 20
	}
	tasks, _ := filepath.Glob("/proc/" + strconv.Itoa(pid) + "/task/*/children")
	for _, task := range tasks {
		text, _ := os.ReadFile(task)
		for _, child := range strings.Fields(string(text)) {
			if n, err := strconv.Atoi(child); err == nil {
				sum += resident(n)
			}
		}
	}
	return sum
}
