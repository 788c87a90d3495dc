import { useState } from "preact/hooks";
import { useGet } from "../lib/load";
import { useTitle } from "../lib/route";
import type { Figure } from "../ui/chart";
import { Answer } from "../ui/states";
import { CopyTable } from "../ui/table";
import { FacePicture, type Face } from "./face";
import { Picture } from "./picture";

// A sheet as the notebook describes it; the names are the record's own.
interface Fact { Label: string; Value: string; Doubt: string }
interface Table { Header: string[]; Rows: string[][] | null }
interface Label { Name: string; Address: string; Archer?: string }
interface Block { Heading: string; Text: string; Facts: Fact[] | null; Table: Table | null; Figure: Figure | null; Face?: Face; Labels?: Label[]; Lines: number }
interface Sheet { Title: string; Subtitle: string; Made: string; Source: string; Bow?: string; Link?: string; Blocks: Block[] | null; Cautions: string[] | null }
interface SheetView { sheet: Sheet; pdf: string; text: string; csv: string }

const papers = ["A4", "Letter"] as const;

// SheetPage shows a sheet as it will be printed, on one page, with the PDF
// beside it.
export function SheetPage({ kind, id }: { kind: string; id: string }) {
  const sheet = useGet<SheetView>(`/sheets/${kind}/${id}${location.search}`);
  const [paper, setPaper] = useState<(typeof papers)[number]>("A4");
  useTitle(sheet.value?.sheet.Title ?? "Sheet");
  return (
    <>
      {!sheet.value && <h1>Sheet</h1>}
      <Answer of={sheet} what="Setting the page …">
        {(v) => (
          <>
            <p class="crumb no-print"><Back kind={kind} id={id} bow={v.sheet.Bow} /></p>
            <div class="row no-print tools">
              <button type="button" class="main-size" onClick={() => print()}>Print</button>
              <a class="button" href={`${v.pdf}${v.pdf.includes("?") ? "&" : "?"}paper=${paper}`} target="_blank" rel="noreferrer">PDF, {paper}</a>
              <label class="paper">Paper
                <select value={paper} onChange={(e) => setPaper(e.currentTarget.value as (typeof papers)[number])}>
                  {papers.map((p) => <option key={p}>{p}</option>)}
                </select>
              </label>
              <a class="button quiet" href={v.text} target="_blank" rel="noreferrer">Text</a>
              <a class="button quiet" href={v.csv} target="_blank" rel="noreferrer">Spreadsheet</a>
              {kind === "session" && <a class="button quiet" href={`${v.sheet.Bow ? `/bows/${v.sheet.Bow}` : ""}/taken-back?session=${id}`}>Taken back</a>}
            </div>
            <Paper sheet={v.sheet} />
          </>
        )}
      </Answer>
    </>
  );
}

function Back({ kind, id, bow }: { kind: string; id: string; bow?: string }) {
  if (kind === "label") return <a href="/round">To the round</a>;
  if (kind === "plan" || kind === "trial") return <a href={`/trials/${id}`}>To the trial</a>;
  return bow ? <a href={`/bows/${bow}`}>To the bow</a> : <a href="/">To the bench</a>;
}

function Paper({ sheet }: { sheet: Sheet }) {
  const figures = (sheet.Blocks ?? []).filter((b) => b.Figure);
  return (
    <article class="sheet" aria-label={sheet.Title}>
      <header>
        <h1>{sheet.Title}</h1>
        <p class="of">{sheet.Subtitle}</p>
      </header>
      {(sheet.Blocks ?? []).map((b, i) => !b.Figure && <Part key={i} b={b} />)}
      {figures.length > 0 && <div class="pictures">{figures.map((b, i) => <Part key={i} b={b} />)}</div>}
      {(sheet.Cautions?.length ?? 0) > 0 && (
        <section class="care">
          <h2>Take care</h2>
          <ul>{sheet.Cautions!.map((c) => <li key={c}>{c}</li>)}</ul>
        </section>
      )}
      <footer>Tautline · {sheet.Made.startsWith("0001") ? "" : `${sheet.Made.slice(0, 16).replace("T", " ")} UTC · `}{sheet.Source}</footer>
    </article>
  );
}

function Part({ b }: { b: Block }) {
  return (
    <section>
      {b.Heading && <h2>{b.Heading}</h2>}
      {b.Text && <p>{b.Text}</p>}
      {b.Face && <FacePicture face={b.Face} />}
      {b.Facts && (
        <dl>{b.Facts.map((f) => <div key={f.Label + f.Value}><dt>{f.Label}</dt><dd>{f.Value} {f.Doubt && <span class="doubt">{f.Doubt}</span>}</dd></div>)}</dl>
      )}
      {b.Labels && (
        <>
          <p class="no-print">Print the PDF: it holds the codes. They lead here:</p>
          <ul>{b.Labels.map((l) => <li key={l.Address}><strong>{l.Name}</strong>{l.Archer && ` (${l.Archer})`} <a href={new URL(l.Address).pathname}>{l.Address}</a></li>)}</ul>
        </>
      )}
      {b.Table && (b.Face ? <details class="no-print"><summary>The numbers behind the picture</summary><Grid t={b.Table} label="The numbers behind the picture" /></details> : <Grid t={b.Table} label={b.Heading || "Table"} />)}
      {b.Figure && <Picture figure={b.Figure} />}
      {b.Lines > 0 && <div class="lines" aria-hidden="true">{Array.from({ length: b.Lines }, (_, i) => <div key={i} />)}</div>}
    </section>
  );
}

// Grid is a table; an empty cell under a header that ends in "…" is for the
// pencil.
function Grid({ t, label }: { t: Table; label: string }) {
  const pencil = t.Header.map((h) => h.endsWith("…"));
  return (
    <CopyTable label={label}>
      <table class={pencil.some(Boolean) ? "card-table" : ""}>
        <thead><tr>{t.Header.map((h) => (h ? <th scope="col" key={h}>{h}</th> : <td key="" />))}</tr></thead>
        <tbody>{(t.Rows ?? []).map((row, i) => <tr key={i}>{row.map((c, j) => <td key={j} class={pencil[j] ? "pencil" : ""}>{c}</td>)}</tr>)}</tbody>
      </table>
    </CopyTable>
  );
}
