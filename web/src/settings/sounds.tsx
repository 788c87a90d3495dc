import { useState } from "preact/hooks";
import { setThrift, tellsLine, thriftNow, type Thrift } from "../sound/thrift";
import { Pick } from "../ui/field";

// Sounds is when recordings of this device go to the notebook.
export function Sounds() {
  const [thrift, set] = useState(thriftNow);
  const options: [Thrift, string, string?][] = [
    ["always", "as soon as the notebook answers"],
    ...(tellsLine() ? [["wifi", "by themselves over Wi-Fi only"] as [Thrift, string]] : []),
    ["asked", "when I press “Send now”"],
  ];
  return (
    <section class="card" aria-label="Recordings of this device">
      <h2>Recordings of this device</h2>
      <Pick<Thrift> label="They go to the notebook" value={thrift} onInput={(t) => { setThrift(t); set(t); }} options={options}
        help={`Ten minutes are some 60 MB. Readings and ends are small and always go.${tellsLine() ? "" : " This browser does not tell pages whether it is on Wi-Fi."}`} />
    </section>
  );
}
