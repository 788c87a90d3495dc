import { useEffect, useState } from "preact/hooks";
import { useTitle } from "../lib/route";
import { Waits } from "../ui/states";
import { Finder } from "./finder";
import looks from "./help.css" with { type: "text" };
import { placesFor } from "./about";
import { all, partOf, type Piece, piecesOf, wordsOf } from "./pages";
import { Article } from "./render";
import { index } from "./search";

// The looks come with this page and not with the first one, which is kept small.
const sheet = new CSSStyleSheet();
sheet.replaceSync(looks);
document.adoptedStyleSheets.push(sheet);

// HelpPage is the contents of the manual, or one page of it. Of a refusal's
// code it is the place that tells of it.
export function HelpPage({ name, code }: { name?: string; code?: string }) {
  const of = all.find((p) => p.name === (code ? "errors" : name ?? "start"));
  const pieces = usePieces(of?.name, of?.part);
  useTitle(of ? (name || code ? `${of.title} · Help` : "Help") : "No such page · Help");
  useArrival(pieces, code);
  return (
    <>
      <p class="crumb"><a href="/">Bench</a>{(name || code) && <> › <a href="/help">Help</a></>}</p>
      {!of ? <NoSuchPage /> : pieces ? <><Finder /><Here /><Article pieces={pieces}>{of.name !== "start" && <Inside pieces={pieces} />}</Article></> : <Waits what="Opening the manual…" />}
      {of && pieces && (of.name === "start" ? <Contents /> : <Onward name={of.name} />)}
    </>
  );
}

// usePieces are a page's tokens once its part of the manual is loaded.
function usePieces(name: string | undefined, part: string | undefined): Piece[] | undefined {
  const [held, hold] = useState<{ name: string; pieces: Piece[] }>();
  const [fault, fail] = useState<unknown>();
  useEffect(() => {
    if (!name || !part) return;
    let gone = false;
    partOf(part).then((pages) => { if (!gone) hold({ name, pieces: piecesOf(pages.find((p) => p.name === name)!.text) }); }, (e: unknown) => { if (!gone) fail(e); });
    return () => { gone = true; };
  }, [name, part]);
  if (fault) throw fault; // the boundary says that it is not on this device
  return held?.name === name ? held?.pieces : undefined;
}

// useArrival goes to the place that the address names, once it is there.
function useArrival(pieces: Piece[] | undefined, code: string | undefined) {
  useEffect(() => {
    if (!pieces) return;
    const arrive = () => {
      const anchor = code ? pieces.find((p) => p.anchor?.startsWith(`${code}-`) && wordsOf([p]).startsWith(`${code}:`))?.anchor : decodeURIComponent(location.hash.slice(1));
      const place = anchor ? document.getElementById(anchor) : null;
      place?.scrollIntoView();
      place?.focus({ preventScroll: true });
    };
    arrive();
    addEventListener("popstate", arrive);
    return () => removeEventListener("popstate", arrive);
  }, [pieces, code]);
}

// Inside lists the headings of a long page.
function Inside({ pieces }: { pieces: Piece[] }) {
  const headings = pieces.filter((p) => p.type === "heading" && "depth" in p && p.depth === 2);
  if (headings.length < 3) return null;
  return (
    <details class="no-print">
      <summary>On this page</summary>
      <ul class="lines">{headings.map((h) => <li key={h.anchor}><a href={`#${h.anchor}`}>{wordsOf([h])}</a></li>)}</ul>
    </details>
  );
}

// Here leads to what the manual tells of the page that one comes from.
function Here() {
  const from = new URLSearchParams(location.search).get("from"), places = from ? placesFor(from) : [];
  const [titles, name] = useState<Map<string, string>>();
  useEffect(() => { if (places.length > 0) void index().then((all) => name(new Map(all.flatMap((s): [string, string][] => [[`${s.page}#${s.anchor}`, s.title], [s.page, s.of]]))), () => undefined); }, [from]); // without the manual there is nothing to lead to
  if (places.length === 0 || !titles) return null;
  return (
    <nav class="card" aria-label="Of the page you come from">
      <h2>Of the page you come from</h2>
      <ul class="lines">{places.map((p) => <li key={p}><a href={`/help/${p}`}>{titles.get(p)}</a></li>)}</ul>
    </nav>
  );
}

// Contents are all pages in their groups.
function Contents() {
  const groups = [...new Set(all.map((p) => p.group))];
  return (
    <section class="cards below" aria-label="All pages">
      {groups.map((g) => (
        <section key={g} id={g.toLowerCase().replaceAll(" ", "-")} class="card">
          <h2>{g}</h2>
          <ul class="lines">{all.filter((p) => p.group === g && p.name !== "start").map((p) => <li key={p.name}><a href={`/help/${p.name}`}>{p.title}</a></li>)}</ul>
        </section>
      ))}
    </section>
  );
}

// Onward leads to the page after this one in its group.
function Onward({ name }: { name: string }) {
  const at = all.findIndex((p) => p.name === name), next = all[at + 1];
  return (
    <p class="row no-print below">
      {next && next.group === all[at]!.group && <a class="button" href={`/help/${next.name}`}>Next: {next.title}</a>}
      <a class="button" href="/help">All pages</a>
    </p>
  );
}

function NoSuchPage() {
  return (
    <>
      <h1>The manual has no such page</h1>
      <p>The address may be of another version. Look for a word:</p>
      <Finder />
      <Contents />
    </>
  );
}
