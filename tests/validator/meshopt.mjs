// Runs the reference encoder and decoder of EXT_meshopt_compression over streams: see tests/exports/test_meshopt.py.
//   node meshopt.mjs   reads a JSON array of { what, mode, count, stride, filter, data } and prints an array of results:
//   data in base64, or { fault } where the decoder refuses. what: encode, decode, octahedral or exponential (of floats).
import { readFileSync } from "node:fs";
import { MeshoptDecoder } from "meshoptimizer/decoder";
import { MeshoptEncoder } from "meshoptimizer/encoder";

await Promise.all([MeshoptDecoder.ready, MeshoptEncoder.ready]);
const BITS = 12;

function done({ what, mode, count, stride, filter, data }) {
  const bytes = new Uint8Array(Buffer.from(data, "base64"));
  const floats = () => new Float32Array(bytes.buffer, bytes.byteOffset, bytes.byteLength / 4);
  switch (what) {
    case "encode":
      return MeshoptEncoder.encodeGltfBuffer(bytes, count, stride, mode, 0);
    case "octahedral":
      return MeshoptEncoder.encodeFilterOct(floats(), count, stride, stride === 4 ? 8 : BITS);
    case "exponential":
      return MeshoptEncoder.encodeFilterExp(floats(), count, stride, BITS);
    case "decode": {
      const laid = new Uint8Array(count * stride);
      MeshoptDecoder.decodeGltfBuffer(laid, count, stride, bytes, mode, filter);
      return laid;
    }
  }
  throw new Error(`there is no ${what}`);
}

const results = JSON.parse(readFileSync(0, "utf8")).map((job) => {
  try {
    return Buffer.from(done(job)).toString("base64");
  } catch (fault) {
    return { fault: String(fault) };
  }
});
console.log(JSON.stringify(results));
