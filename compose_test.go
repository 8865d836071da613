package delaybook_test

import (
	"context"
	"maps"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/compose-spec/compose-go/v2/cli"
	"github.com/compose-spec/compose-go/v2/types"
	"github.com/google/go-cmp/cmp"
)

// loadCompose reads docker-compose.yml as the docker command does, with the environment given and no other.
func loadCompose(ctx context.Context, env ...string) (*types.Project, error) {
	options, err := cli.NewProjectOptions([]string{"docker-compose.yml"}, cli.WithEnv(env))
	if err != nil {
		return nil, err
	}
	return options.LoadProject(ctx)
}

func compose(tb testing.TB, env ...string) *types.Project {
	tb.Helper()
	project, err := loadCompose(tb.Context(), append(env, "DELAYBOOK_DB_PASSWORD=p:a/s@s")...)
	if err != nil {
		tb.Fatal(err)
	}
	return project
}

func TestComposeNeedsAPassword(t *testing.T) {
	t.Parallel()
	for _, env := range []string{"", "DELAYBOOK_DB_PASSWORD="} {
		_, err := loadCompose(t.Context(), env)
		if err == nil || !strings.Contains(err.Error(), "DELAYBOOK_DB_PASSWORD is missing a value: set it to a long random text") {
			t.Errorf("with %q: error %v, want one that asks for the password", env, err)
		}
	}
}

func TestComposeServices(t *testing.T) {
	t.Parallel()
	project := compose(t)
	if diff := cmp.Diff([]string{"db", "delaybook"}, slices.Sorted(maps.Keys(project.Services))); diff != "" {
		t.Fatalf("services (-want +got):\n%s", diff)
	}
	for name, service := range project.Services {
		if !service.ReadOnly {
			t.Errorf("%s: the root file system can be written", name)
		}
		if user, _, _ := strings.Cut(service.User, ":"); user == "" || user == "0" || user == "root" {
			t.Errorf("%s: runs as %q, want a user of its own", name, service.User)
		}
		if diff := cmp.Diff([]string{"ALL"}, service.CapDrop); diff != "" || len(service.CapAdd) > 0 || service.Privileged {
			t.Errorf("%s: keeps capabilities: drops %v, adds %v", name, service.CapDrop, service.CapAdd)
		}
		if !slices.Contains(service.SecurityOpt, "no-new-privileges:true") {
			t.Errorf("%s: may gain privileges: %v", name, service.SecurityOpt)
		}
		if !slices.ContainsFunc(service.Tmpfs, func(m string) bool { return strings.HasPrefix(m, "/tmp:") }) {
			t.Errorf("%s: has no /tmp to write to: %v", name, service.Tmpfs)
		}
		if service.HealthCheck == nil || len(service.HealthCheck.Test) < 2 || service.HealthCheck.Disable {
			t.Errorf("%s: has no health check", name)
		}
	}
}

func TestComposeDatabase(t *testing.T) {
	t.Parallel()
	project := compose(t)
	db := project.Services["db"]
	if db.Image != "postgres:17" || db.Build != nil {
		t.Errorf("image %q, want the official postgres:17", db.Image)
	}
	if len(db.Ports) > 0 {
		t.Errorf("the database is published: %v", db.Ports)
	}
	for network := range db.Networks {
		if !project.Networks[network].Internal {
			t.Errorf("the database is on the network %s, which leads outside", network)
		}
	}
	if got := volumeAt(db, "/var/lib/postgresql/data"); got.Type != types.VolumeTypeVolume || project.Volumes[got.Source].Name == "" {
		t.Errorf("the data is on %q of type %q, want a named volume", got.Source, got.Type)
	}
	if !slices.Contains(db.HealthCheck.Test, "pg_isready") {
		t.Errorf("health check %v, want pg_isready", db.HealthCheck.Test)
	}
	if !slices.Contains(db.Tmpfs, "/run/postgresql:mode=1777") {
		t.Errorf("no place for the socket: %v", db.Tmpfs)
	}
}

func TestComposeProgram(t *testing.T) {
	t.Parallel()
	project := compose(t)
	program, db := project.Services["delaybook"], project.Services["db"]
	if got := program.DependsOn["db"]; got.Condition != types.ServiceConditionHealthy || !got.Required {
		t.Errorf("waits for the database to be %q, want healthy", got.Condition)
	}
	want := map[string]string{
		"DATABASE_URL": "postgres://delaybook@db:5432/delaybook?sslmode=disable",
		"PGPASSWORD":   "p:a/s@s",
	}
	for key, value := range want {
		if got := program.Environment[key]; got == nil || *got != value {
			t.Errorf("%s is %v, want %q", key, got, value)
		}
	}
	if got := db.Environment["POSTGRES_PASSWORD"]; got == nil || *got != "p:a/s@s" {
		t.Errorf("POSTGRES_PASSWORD is %v, want the password that the program sends", got)
	}
	if len(program.Ports) != 1 || program.Ports[0].HostIP != "127.0.0.1" || program.Ports[0].Target != 8080 {
		t.Errorf("ports %v, want 8080 on loopback only", program.Ports)
	}
	if got := volumeAt(program, "/var/lib/delaybook"); got.Type != types.VolumeTypeVolume || got.ReadOnly {
		t.Errorf("the data folder is %+v, want a volume that can be written", got)
	}
	if !strings.Contains(strings.Join(program.HealthCheck.Test, " "), "/readyz") {
		t.Errorf("health check %v does not ask /readyz", program.HealthCheck.Test)
	}
}

func TestComposeSettings(t *testing.T) {
	t.Parallel()
	program := compose(t, "DELAYBOOK_PUBLIC_URL=https://book.example", "DELAYBOOK_BIND=0.0.0.0", "DELAYBOOK_PORT=443",
		"DELAYBOOK_TLS_DIR=/etc/book", "DELAYBOOK_TLS_CERT=/run/tls/c.pem", "DELAYBOOK_TLS_KEY=/run/tls/k.pem").Services["delaybook"]
	want := types.ShellCommand{
		"serve", "--listen=0.0.0.0:8080", "--data=/var/lib/delaybook", "--public-url=https://book.example",
		"--tls-cert=/run/tls/c.pem", "--tls-key=/run/tls/k.pem", "--decoder=ffmpeg",
	}
	if diff := cmp.Diff(want, program.Command); diff != "" {
		t.Errorf("command (-want +got):\n%s", diff)
	}
	if got := program.Ports[0]; got.HostIP != "0.0.0.0" || got.Published != "443" {
		t.Errorf("published on %s:%s", got.HostIP, got.Published)
	}
	if got := volumeAt(program, "/run/tls"); got.Type != types.VolumeTypeBind || got.Source != "/etc/book" || !got.ReadOnly {
		t.Errorf("certificates from %+v, want /etc/book, read only", got)
	}
	if got := volumeAt(compose(t).Services["delaybook"], "/run/tls"); got.Type != types.VolumeTypeVolume {
		t.Errorf("without a folder the certificates are %+v, want an empty volume", got)
	}
}

func volumeAt(service types.ServiceConfig, target string) types.ServiceVolumeConfig {
	for _, volume := range service.Volumes {
		if volume.Target == target {
			return volume
		}
	}
	return types.ServiceVolumeConfig{}
}

func TestComposeBuildsThePrograms(t *testing.T) {
	t.Parallel()
	program := compose(t).Services["delaybook"]
	if program.Build == nil || program.Build.DockerfileInline == "" {
		t.Fatal("the image is not built from an inline Dockerfile")
	}
	stages := strings.Split("\n"+program.Build.DockerfileInline, "\nFROM ")[1:]
	if len(stages) != 2 {
		t.Fatalf("%d stages, want one that builds and one that runs", len(stages))
	}
	build, run := stages[0], stages[1]
	toolchain := regexp.MustCompile(`^golang:(\d+\.\d+)\S* AS build\n`).FindStringSubmatch(build)
	gomod, err := os.ReadFile("go.mod")
	if err != nil {
		t.Fatal(err)
	}
	if toolchain == nil || !strings.Contains(string(gomod), "\ngo "+toolchain[1]+".") {
		t.Errorf("builds in %.40q, want the Go version of go.mod", build)
	}
	commands := regexp.MustCompile(`\./cmd/[\w-]+`).FindAllString(build, -1)
	for _, want := range []string{"./cmd/delaybook", "./cmd/delaybook-decode"} {
		if !slices.Contains(commands, want) {
			t.Errorf("builds %v, want %s", commands, want)
		}
	}
	for _, command := range commands {
		if _, err := os.Stat(path.Join(command, "main.go")); err != nil {
			t.Errorf("builds %s: %v", command, err)
		}
	}
	for _, line := range []string{"COPY --from=build /out/ /usr/local/bin/", "USER " + program.User, `ENTRYPOINT ["/usr/local/bin/delaybook"]`} {
		if !strings.Contains(run, "\n"+line+"\n") {
			t.Errorf("the image that runs has no line %q", line)
		}
	}
	if strings.Contains(run, "golang") {
		t.Error("the image that runs holds the toolchain")
	}
}
