import { bounds, decoded, HeicProblem, withEnd } from "./photo/heif";

// The worker that reads a HEIC picture where the browser cannot. The server's
// policy for this script lets it compile WebAssembly and talk to nobody; the
// page ends it when it takes too long.

interface Asked { wasm: Uint8Array; file: Uint8Array }

addEventListener("message", (e) => {
  const { wasm, file } = (e as MessageEvent<Asked>).data;
  const say = postMessage as unknown as (answer: unknown, hand: Transferable[]) => void;
  WebAssembly.compile(withEnd(wasm, bounds.memory)).then((module) => {
    const picture = decoded(module, file);
    say({ picture }, [picture.data.buffer]);
  }).catch((fault: unknown) => say({ problem: fault instanceof HeicProblem ? fault.message : "" }, []));
});
