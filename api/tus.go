package api

import (
	"context"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"

	"delaybook/domain"
	"delaybook/domain/service"

	"github.com/go-json-experiment/json"
	"github.com/labstack/echo/v4"
	"github.com/tus/tusd/v2/pkg/filestore"
	"github.com/tus/tusd/v2/pkg/handler"
	"github.com/tus/tusd/v2/pkg/memorylocker"
	"golang.org/x/exp/slog"
)

const (
	tusVersion  = "Tus-Resumable"
	uploadsPath = "/v1/uploads/"

	clipLocation = "Clip-Location" // of the clip that an upload became
)

// A tusServer takes in recordings bit by bit, by version 1.0.0 of the tus
// protocol: https://tus.io/protocols/resumable-upload. An upload is known to
// whom may write to its rig, and becomes the clip of the same identifier when
// its last byte is there.
type tusServer struct {
	*server
	store   filestore.FileStore
	handler *handler.UnroutedHandler
}

func newTusServer(s *server, folder string, most int64) (*tusServer, error) {
	t := &tusServer{server: s, store: filestore.New(folder)}
	t.store.DirModePerm, t.store.FileModePerm = 0o700, 0o600
	composer := handler.NewStoreComposer()
	t.store.UseIn(composer)
	memorylocker.New().UseIn(composer)
	var err error
	t.handler, err = handler.NewUnroutedHandler(handler.Config{
		StoreComposer: composer, BasePath: uploadsPath, MaxSize: most, DisableDownload: true, DisableConcatenation: true,
		Cors: &handler.CorsConfig{Disable: true}, Logger: slog.New(slog.NewTextHandler(discard{}, nil)),
		PreUploadCreateCallback: t.begin,
		PreFinishResponseCallback: func(hook handler.HookEvent) (handler.HTTPResponse, error) {
			return t.finish(hook.Context, hook.Upload)
		},
	})
	return t, err
}

// discard is the log of the library, which logs each request; observe does so already.
type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }

// What begin and finish are to know of the request.
type tusKey struct{}

type tusRequest struct {
	service.Request
	rig string
}

// serve hands a request to the library, with problems for its plain errors.
func (t *tusServer) serve(c echo.Context, r tusRequest, serve http.HandlerFunc) error {
	request := c.Request().WithContext(context.WithValue(c.Request().Context(), tusKey{}, r))
	request.Header.Del("X-HTTP-Method-Override") // it would pass by who may do what
	out := &tusAnswer{ResponseWriter: c.Response()}
	under := strings.TrimPrefix(request.URL.Path, uploadsPath)
	request.URL = &url.URL{Path: "/" + under} // the library takes all of the path for the identifier
	t.handler.Middleware(serve).ServeHTTP(out, request)
	if out.problem == 0 {
		return nil
	}
	return tusProblem(out.problem, string(out.text))
}

// create begins an upload: POST /v1/rigs/{rig}/clips with Tus-Resumable.
func (t *tusServer) create(c echo.Context) error {
	r, err := writing(c, nil)
	if err != nil {
		return err
	}
	return t.serve(c, tusRequest{r, c.Param("rig")}, t.handler.PostFile)
}

// begin checks what is said of a recording before any of it is sent, and names the upload.
func (t *tusServer) begin(hook handler.HookEvent) (none handler.HTTPResponse, changes handler.FileInfoChanges, err error) {
	r, _ := hook.Context.Value(tusKey{}).(tusRequest)
	if hook.Upload.SizeIsDeferred {
		return none, changes, asTus(domain.Errorf(domain.Invalid, "Say in Upload-Length how large the recording is."))
	}
	meta := maps.Clone(hook.Upload.MetaData)
	if first := meta[secondMeta]; first != "" {
		if err := t.clips.AwaitsSecond(hook.Context, r.Request, first); err != nil {
			return none, changes, asTus(err)
		}
	}
	if meta["client_id"] == "" && r.Once != "" {
		meta["client_id"] = service.OnceID(r.Request)
	}
	if _, own := meta[rigMeta]; own {
		return none, changes, asTus(fault("", "the metadata "+rigMeta+" is for the service alone", "metadata without it"))
	}
	if _, err := newClip(clipMeta(meta)); err != nil {
		return none, changes, asTus(err)
	}
	upload, err := t.clips.Upload(hook.Context, r.Request, r.rig)
	if err != nil {
		return none, changes, asTus(err)
	}
	meta[rigMeta] = upload.Rig()
	body, err := json.Marshal(Upload{ID: upload.ID(), Length: hook.Upload.Size})
	if err != nil {
		return none, changes, err
	}
	answer := handler.HTTPResponse{Body: string(body), Header: handler.HTTPHeader{echo.HeaderContentType: echo.MIMEApplicationJSON}}
	return answer, handler.FileInfoChanges{ID: upload.ID(), MetaData: meta}, nil
}

// An Upload is a recording that comes in bit by bit.
type Upload struct {
	ID     string `json:"id" format:"uuid"`
	Length int64  `json:"length" example:"18874368"` // bytes, in all
} //	@name	Upload

// Metadata that is not for the clip.
const (
	rigMeta    = "delaybook-rig" // the identifier of the rig, which begin sets
	filesMeta  = "files"         // 2: a second file comes later, as an upload of its own with the next
	secondMeta = "second_of"     // the clip that the first file became
	nameMeta   = "filename"      // customary with clients of the protocol, as is the next
	typeMeta   = "filetype"
)

func clipMeta(meta handler.MetaData) map[string]string {
	fields := map[string]string(maps.Clone(meta))
	for _, name := range []string{rigMeta, nameMeta, typeMeta, filesMeta, secondMeta} {
		delete(fields, name)
	}
	return fields
}

// finish makes a clip of an upload that is whole.
func (t *tusServer) finish(ctx context.Context, info handler.FileInfo) (answer handler.HTTPResponse, err error) {
	r, _ := ctx.Value(tusKey{}).(tusRequest)
	v, err := t.become(ctx, r.Request, info)
	if err != nil {
		return answer, asTus(err)
	}
	for _, path := range []string{info.Storage[filestore.StorageKeyPath], info.Storage[filestore.StorageKeyInfoPath]} {
		if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
			t.log.WarnContext(ctx, "clean up after an upload", "err", err) // it expires
		}
	}
	answer.Header = handler.HTTPHeader{clipLocation: "/v1/clips/" + v.ID.String()}
	return answer, nil
}

// become makes a clip, or the second file of one, of an upload that is whole.
func (t *tusServer) become(ctx context.Context, r service.Request, info handler.FileInfo) (v service.ClipView, err error) {
	name, path := info.MetaData[nameMeta], info.Storage[filestore.StorageKeyPath]
	if first := info.MetaData[secondMeta]; first != "" {
		return t.clips.AddSecond(ctx, r, first, name, path)
	}
	in, err := newClip(clipMeta(info.MetaData))
	if err != nil {
		return v, err
	}
	in.Awaits = info.MetaData[filesMeta] == "2"
	upload, err := t.clips.Resume(ctx, r, info.MetaData[rigMeta], info.ID)
	if err != nil {
		return v, err
	}
	err = upload.Adopt(name, path)
	if err == nil {
		v, err = t.clips.Add(ctx, r, info.MetaData[rigMeta], in, upload)
	}
	return v, errors.Join(err, upload.Close())
}

// headUpload says how much of an upload is there.
//
//	@Summary	Say how much of an upload is there
//	@Tags		clips
//	@Produce	json
//	@Security	bearer
//	@Param		upload				path	string	true	"identifier"
//	@Param		Tus-Resumable		header	string	false	"1.0.0"
//	@Success	200					"Upload-Offset and Upload-Length say it; Clip-Location, if it became a clip, where that is"
//	@Failure	401,404,412,422,423	{object}	Problem
//	@Router		/v1/uploads/{upload} [head]
func (t *tusServer) headUpload(c echo.Context) error {
	info, r, err := t.find(c)
	if err != nil {
		return t.becameClip(c, err)
	}
	return t.serve(c, tusRequest{r, info.MetaData[rigMeta]}, t.handler.HeadFile)
}

// becameClip answers for an upload that became a clip: all of it is there.
func (t *tusServer) becameClip(c echo.Context, missing error) error {
	v, err := t.clips.Clip(c.Request().Context(), service.Request{Caller: caller(c)}, c.Param("upload"))
	if err != nil || len(v.Files) == 0 {
		return missing
	}
	h := c.Response().Header()
	h.Set(tusVersion, "1.0.0")
	h.Set("Upload-Offset", strconv.FormatInt(v.Files[0].Size, 10))
	h.Set("Upload-Length", strconv.FormatInt(v.Files[0].Size, 10))
	h.Set(clipLocation, "/v1/clips/"+v.ID.String())
	h.Set(echo.HeaderCacheControl, "no-store")
	return c.NoContent(http.StatusOK)
}

// patchUpload goes on with an upload.
//
//	@Summary		Go on with an upload
//	@Description	By the tus protocol. With the last byte the upload becomes a clip, which Clip-Location names. HEAD says how much is there.
//	@Tags			clips
//	@Accept			application/offset+octet-stream
//	@Produce		json
//	@Security		bearer
//	@Param			upload										path	string	true	"identifier"
//	@Param			Tus-Resumable								header	string	true	"1.0.0"
//	@Param			Upload-Offset								header	int		true	"how much is there"
//	@Success		204											"taken; Upload-Offset says how much is there now"
//	@Header			204											{string}	Clip-Location	"with the last byte: where the clip is"
//	@Failure		400,401,403,404,409,412,413,415,422,423,507	{object}	Problem
//	@Router			/v1/uploads/{upload} [patch]
func (t *tusServer) patchUpload(c echo.Context) error {
	info, r, err := t.find(c)
	if err != nil {
		return err
	}
	request := tusRequest{r, info.MetaData[rigMeta]}
	if info.Offset == info.Size { // all was there, and becoming a clip failed
		ctx := context.WithValue(c.Request().Context(), tusKey{}, request)
		answer, err := t.finish(ctx, info)
		if err != nil {
			return fromTus(err)
		}
		h := c.Response().Header()
		h.Set(tusVersion, "1.0.0")
		h.Set("Upload-Offset", strconv.FormatInt(info.Offset, 10))
		h.Set(clipLocation, answer.Header[clipLocation])
		return c.NoContent(http.StatusNoContent)
	}
	return t.serve(c, request, t.handler.PatchFile)
}

// deleteUpload gives an upload up.
//
//	@Summary	Give an upload up
//	@Tags		clips
//	@Produce	json
//	@Security	bearer
//	@Param		upload						path	string	true	"identifier"
//	@Param		Tus-Resumable				header	string	true	"1.0.0"
//	@Success	204							"what was there is deleted"
//	@Failure	400,401,403,404,412,422,423	{object}	Problem
//	@Router		/v1/uploads/{upload} [delete]
func (t *tusServer) deleteUpload(c echo.Context) error {
	info, r, err := t.find(c)
	if err != nil {
		return err
	}
	return t.serve(c, tusRequest{r, info.MetaData[rigMeta]}, t.handler.DelFile)
}

// find finds an upload to a rig that the caller may write to. To others it is not there.
func (t *tusServer) find(c echo.Context) (handler.FileInfo, service.Request, error) {
	r := service.Request{Caller: caller(c)}
	missing := domain.Errorf(domain.NotFound, "There is no such upload: it became a clip, it expired, or it never was.")
	if !service.IsID(c.Param("upload")) {
		return handler.FileInfo{}, r, missing
	}
	ctx := c.Request().Context()
	upload, err := t.store.GetUpload(ctx, c.Param("upload"))
	if err != nil {
		return handler.FileInfo{}, r, missing
	}
	info, err := upload.GetInfo(ctx)
	if err != nil {
		return handler.FileInfo{}, r, err
	}
	if _, err := t.clips.Upload(ctx, r, info.MetaData[rigMeta]); err != nil {
		return handler.FileInfo{}, r, missing
	}
	return info, r, nil
}
