import type { Token, Tokens } from "marked";
import type { ComponentChildren } from "preact";
import type { Piece } from "./pages";

// The tokens of a page become elements one by one: no HTML of the manual is
// ever read as such, so nothing in it can be more than these few.

export function Article({ pieces, children }: { pieces: Piece[]; children: ComponentChildren }) {
  const [title, ...rest] = pieces;
  return <article class="manual">{title && <Block of={title} />}{children}{rest.map((t, i) => <Block key={i} of={t} />)}</article>;
}

function Block({ of: t }: { of: Piece }): ComponentChildren {
  switch (t.type) {
    case "space": return null;
    case "heading": return <Heading level={(t as Tokens.Heading).depth} anchor={t.anchor}>{inline(t)}</Heading>;
    case "paragraph": return <p>{inline(t)}</p>;
    case "list": return <List of={t as Tokens.List} />;
    case "table": return <Table of={t as Tokens.Table} />;
    case "code": return <pre><code>{(t as Tokens.Code).text}</code></pre>;
    case "blockquote": return <blockquote class="note">{blocks(t)}</blockquote>;
    case "hr": return <hr />;
    default: return <>{inlineOne(t)}</>;
  }
}

const blocks = (t: Token) => ("tokens" in t ? t.tokens ?? [] : []).map((x, i) => <Block key={i} of={x} />);

// Heading takes the focus when somebody comes for it.
function Heading({ level, anchor, children }: { level: number; anchor?: string; children: ComponentChildren }) {
  const own = { id: anchor, tabIndex: -1 };
  if (level === 1) return <h1 {...own}>{children}</h1>;
  if (level === 2) return <h2 {...own}>{children}</h2>;
  return <h3 {...own}>{children}</h3>;
}

function List({ of }: { of: Tokens.List }) {
  const items = of.items.map((item, i) => <li key={i}>{blocks(item)}</li>);
  return of.ordered ? <ol start={of.start === "" ? 1 : of.start}>{items}</ol> : <ul>{items}</ul>;
}

// Table stands as lines of cells on a narrow screen, each cell with its
// column's name: see help.css.
function Table({ of }: { of: Tokens.Table }) {
  const names = of.header.map((h) => h.text.replace(/[*`]/g, ""));
  return (
    <table role="table">
      {names.some((n) => n !== "") && <thead role="rowgroup"><tr role="row">{of.header.map((h, i) => (names[i] ? <th key={i} role="columnheader" scope="col">{many(h.tokens)}</th> : <td key={i} role="cell" />))}</tr></thead>}
      <tbody role="rowgroup">{of.rows.map((row, i) => <tr key={i} role="row">{row.map((c, k) => <td key={k} role="cell" data-of={names[k] || undefined}>{many(c.tokens)}</td>)}</tr>)}</tbody>
    </table>
  );
}

const many = (tokens: Token[]) => tokens.map((t, i) => <span key={i}>{inlineOne(t)}</span>);
const inline = (t: Token): ComponentChildren => ("tokens" in t && t.tokens ? t.tokens.map(inlineOne) : "text" in t ? t.text : null);

function inlineOne(t: Token): ComponentChildren {
  switch (t.type) {
    case "strong": return <strong>{inline(t)}</strong>;
    case "em": return <em>{inline(t)}</em>;
    case "codespan": return <code>{(t as Tokens.Codespan).text}</code>;
    case "br": return <br />;
    case "link": return <a href={(t as Tokens.Link).href}>{inline(t)}</a>;
    default: return inline(t);
  }
}
