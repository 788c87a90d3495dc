import { clock, useLive } from "./recorder";

// Rolling says on every page that a recording runs, and leads back to it.
export function Rolling() {
  const live = useLive();
  if (!live) return null;
  const { of, frames, rate } = live.take, to = of.trial ? `/trials/${of.trial}` : `/bows/${of.bow}/sound`;
  return <a class="rolling num" href={to}>{clock(frames / rate)}<span class="visually-hidden"> recorded so far: go to the recording</span></a>;
}
