// A small client of the tus protocol for uploads that can be resumed, version
// 1.0.0 (https://tus.io/protocols/resumable-upload, core protocol and creation).
// It uses fetch alone, so that it also works in the service worker; progress
// comes by the piece.

const version = { "Tus-Resumable": "1.0.0" };
const least = 128 * 1024; // bytes of a piece: the first one on an unknown network
const most = 8 * 1024 * 1024;
const pace = 2000; // a piece should take about so long, ms
const patience = 120_000; // and no longer than this

// An UploadError is an answer that is no success. again: asking anew how much has
// arrived, and going on from there, may mend it.
export class UploadError extends Error {
  constructor(response, again = false) {
    super(`the service answered ${response.status}`);
    Object.assign(this, { response, again });
  }
}

const encode = (text) => btoa(String.fromCodePoint(...new TextEncoder().encode(text)));

// create announces an upload and returns its address.
export async function create(path, blob, metadata) {
  const pairs = Object.entries(metadata).map(([key, value]) => (value === "" ? key : `${key} ${encode(value)}`));
  const response = await fetch(path, {
    method: "POST", signal: AbortSignal.timeout(patience),
    headers: { ...version, "Upload-Length": String(blob.size), "Upload-Metadata": pairs.join(",") },
  });
  const location = response.headers.get("Location");
  if (response.status !== 201 || !location) throw new UploadError(response);
  return new URL(location, response.url).href;
}

// offset returns how much of an upload has arrived, null when the service does
// not know the upload any more.
export async function offset(address) {
  const response = await fetch(address, { method: "HEAD", headers: version, cache: "no-store", signal: AbortSignal.timeout(patience) });
  if (response.status === 404 || response.status === 410) return null;
  const arrived = Number.parseInt(response.headers.get("Upload-Offset") ?? "", 10);
  if (!response.ok || !(arrived >= 0)) throw new UploadError(response);
  return arrived;
}

// upload sends what is missing (of an upload that has all of it an empty piece,
// which completes what the last one could not), calls progress with how much has arrived, and
// returns the answer to the last piece. It throws when the network fails;
// whoever calls it tries again later.
export async function upload(address, blob, arrived, progress) {
  let size = least;
  let response;
  do {
    const began = Date.now();
    response = await fetch(address, {
      method: "PATCH", body: blob.slice(arrived, arrived + size), signal: AbortSignal.timeout(patience),
      headers: { ...version, "Content-Type": "application/offset+octet-stream", "Upload-Offset": String(arrived) },
    });
    const now = Number.parseInt(response.headers.get("Upload-Offset") ?? "", 10);
    if (!response.ok || !(now > arrived || now === blob.size)) throw new UploadError(response, [404, 409, 410].includes(response.status));
    arrived = now;
    await progress(arrived);
    const took = Math.max(Date.now() - began, 1);
    size = Math.round(Math.min(most, Math.max(least, size * Math.min(2, pace / took))));
  } while (arrived < blob.size);
  return response;
}
