import { useEffect, useRef, useState } from "preact/hooks";
import { useAccount } from "../lib/account";
import { readDraft } from "../lib/draft";
import { megabytes } from "../lib/dangers";
import { Note } from "../ui/field";
import { Meter } from "./meter";
import { lastTrouble, liveNow, possible, startLive, stopLive, tapLive, watchLive, type Live, type Trouble } from "./live";
import { sendingNow, sendTakes, throwAway, whose } from "./sending";
import { mayGo } from "./thrift";
import { soundOf, takes, watchTakes, type Of, type Take, type Where } from "./takes";

// useLive follows the recording that runs in this page.
export function useLive(): Live | undefined {
  const [live, set] = useState(liveNow);
  useEffect(() => {
    set(liveNow());
    return watchLive(() => set(liveNow()));
  }, []);
  return live;
}

// whereNow is what was last said of the phone and its place.
export const whereNow = (draft: string): Where => readDraft<Where>(draft) ?? nowhere;

export const nowhere: Where = { phone: "", where: "", place: "", bale: "" };

interface Props {
  of: Of; // what a recording made here is of
  name: string; // its name without the ending
  stop: number; // the stop, or setting, it begins at
  next?: (live: Live) => { label: string; stop: number } | undefined; // a tap for the next one, where the page has no button of its own
  whereKey: string; // the draft that says where the phone lies
}

// Recorder makes a recording in the page: started, tapped, stopped with a
// thumb. Everything is written down as it comes.
export function Recorder(p: Props) {
  const live = useLive();
  const [asking, setAsking] = useState(false);
  const mine = live && live.take.of.bow === p.of.bow && live.take.of.trial === p.of.trial;
  const start = () => {
    setAsking(true);
    const stamp = new Date().toISOString().slice(0, 16).replace("T", " ").replace(":", "h");
    void startLive(p.of, whereNow(p.whereKey), `${p.name} ${stamp}.wav`, p.stop).finally(() => setAsking(false));
  };
  const trouble = lastTrouble();
  return (
    <div class="recorder" role="group" aria-label="Record with this device">
      {!possible() && <NotHere />}
      {possible() && !live && <button type="button" disabled={asking} onClick={start}>{asking ? "Asking for the microphone …" : "Record with this device"}</button>}
      {live && !mine && <Note kind="warn">A recording for another page runs: {live.take.name}. <button type="button" class="small" onClick={() => void stopLive()}>Stop it</button></Note>}
      {live && mine && <Running live={live} next={p.next?.(live)} />}
      {!live && trouble && <Note kind="warn">{troubleWords(trouble)}</Note>}
      <Kept of={p.of} />
    </div>
  );
}

function Running({ live, next }: { live: Live; next?: { label: string; stop: number } }) {
  const { take } = live;
  return (
    <div class="recording">
      <p class="row"><strong class="dot">Recording</strong> <span class="num big" role="timer" aria-label="Length so far">{clock(take.frames / take.rate)}</span></p>
      <Meter level={live.level} peak={live.peak} />
      <p role="status" class={live.clippedAgo < 3 ? "warned" : "faint"}>
        {live.clippedAgo < 3 ? "Too loud: clipped. Move the device further away, or every level is too low." : take.clipped > 0 ? `${take.clipped} samples were too loud so far.` : "The level is within bounds."}
      </p>
      {take.treated.length > 0 && <Note kind="warn">The browser did not confirm that this is off: {take.treated.join(", ")}. Levels are then not to be trusted; use the phone's own recorder if you compare loudness.</Note>}
      {take.gaps > 0 && <Note kind="warn">The device paused {take.gaps === 1 ? "once" : `${take.gaps} times`}, so the recording has gaps. Keep this page in front and the screen on.</Note>}
      {take.taps.length > 1 && <p class="faint num">Marks: {take.taps.map((t) => `${t.stop + 1} from ${clock(t.at_s)}`).join(", ")}</p>}
      <div class="row">
        {next && <button type="button" onClick={() => tapLive(next.stop)}>{next.label}</button>}
        <button type="button" class="main" onClick={() => void stopLive()}>Stop the recording</button>
      </div>
    </div>
  );
}

export const clock = (s: number): string => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;

// NotHere explains why there is no recorder, and the other way.
function NotHere() {
  return (
    <p class="faint">
      {window.isSecureContext
        ? "This browser has no recorder that a page can use."
        : "This page cannot use the microphone: browsers give it only to pages over https, or on the machine that runs Tautline itself."} Use the phone's own recorder and send its file below; it does as well.
      {!window.isSecureContext && <> <a href="/help/on-the-phone">How a phone gets there by https</a></>}
    </p>
  );
}

function troubleWords(t: Trouble): string {
  switch (t) {
    case "denied": return "The browser gives this page no microphone. Allow it in the browser's settings for this address, then try again; or use the phone's own recorder and send its file.";
    case "no-device": return "This device has no microphone that the browser knows. Plug one in, or send a file.";
    case "lost": return "The microphone went away. What was recorded until then is kept.";
    case "full": return "This device has no more room. What was recorded until then is kept; send it, or clear some room, before the next one.";
    case "long": return "The recording was ended after 29 minutes, the longest that is listened to in one piece. Start the next one.";
  }
  return `The recorder did not start: ${t}. Send a file instead.`;
}

// useTakes lists what this device holds and has not sent.
export function useTakes(): Take[] {
  const [list, set] = useState<Take[]>([]);
  useEffect(() => {
    const read = () => void takes().then(set, () => set([]));
    read();
    return watchTakes(read);
  }, []);
  return list;
}

// Kept lists the takes of this page, or of one stop of a trial, that are not in
// the notebook yet.
export function Kept({ of, stop }: { of: Of; stop?: number }) {
  const list = useTakes().filter((t) => t.ended && t.of.bow === of.bow && t.of.trial === of.trial && (stop === undefined || t.of.stop === stop));
  return <>{list.map((t) => <KeptTake key={t.id} take={t} />)}</>;
}

// KeptTake is one recording that waits on this device.
export function KeptTake({ take }: { take: Take }) {
  const [sure, setSure] = useState(false);
  const share = useSending(take.id), { account } = useAccount(), of = whose(take, account?.person, account?.accounts);
  const save = async () => {
    const url = URL.createObjectURL(await soundOf(take)), link = document.createElement("a");
    link.href = url;
    link.download = take.name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 10_000);
  };
  return (
    <div class="heard">
      <p><strong>{take.name}</strong> <span class="faint num">{take.chosen ? megabytes(take.chosen.bytes) : clock(take.frames / take.rate)}</span></p>
      {take.cut && <p>The page went away while it recorded; everything up to then is here.</p>}
      {share !== undefined ? <p role="status">Sending: {Math.round(100 * share)} % <progress max={1} value={share} aria-label="Sent" /></p>
        : of === "theirs" ? <p role="status" class="faint">Kept on this device for whoever recorded it; it goes to the notebook when they log in here again.</p>
        : take.why ? <Note kind="bad">The notebook refused it: {take.why}</Note>
        : of === "mine" && <p role="status" class="faint">Kept on this device; it goes to the notebook {mayGo() ? "as soon as that answers" : "over Wi-Fi, or when you press “Send now”"}.</p>}
      {of === "unknown" && share === undefined && <p class="faint">Kept on this device. Whose it is was not noted when it was recorded: it goes under the name of whoever presses “Send as mine”.</p>}
      <div class="row">
        {of !== "theirs" && <button type="button" class="small" onClick={() => void sendTakes(true, take.id)}>{of === "mine" ? "Send now" : "Send as mine"}</button>}
        <button type="button" class="quiet small" onClick={() => void save()}>Save as a file</button>
        {of !== "theirs" && (sure
          ? <button type="button" class="quiet small" onClick={() => void throwAway(take)}>Yes, throw it away for good</button>
          : <button type="button" class="quiet small" onClick={() => setSure(true)}>Throw away</button>)}
      </div>
    </div>
  );
}

// useSending follows how far a take has gone out.
function useSending(id: string): number | undefined {
  const [share, set] = useState<number | undefined>();
  const timer = useRef(0);
  useEffect(() => {
    timer.current = setInterval(() => { const s = sendingNow(); set(s?.id === id ? s.share : undefined); }, 250);
    return () => clearInterval(timer.current);
  }, [id]);
  return share;
}
