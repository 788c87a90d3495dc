import { render } from "preact";
import { useEffect, useRef } from "preact/hooks";
import "./app.css";
import "./club/club.css";
import "./sheet/sheet.css";
import "./sound/sound.css";
import { BenchPage } from "./bench";
import { BowPage, ChangePage, NewBowPage } from "./bow";
import { GroupsPage, PlotPage, TablesPage } from "./group";
import { useBarBow } from "./lib/bar";
import { lazy } from "./lib/lazy";
import { openKept } from "./lib/kept";
import { keepFlushing } from "./lib/outbox";
import { AccountProvider, useAccount } from "./lib/account";
import { earlyTheme, MeProvider } from "./lib/me";
import { keepPages } from "./lib/shelf";
import { match, onLink, usePath, useTitle } from "./lib/route";
import { watchWriting } from "./lib/writing";
import { UnsentPage } from "./settings/unsent";
import { NewTrialPage } from "./shoot";
import { Rolling } from "./sound/rolling";
import { keepSending } from "./sound/sending";
import { ForgivenessPage, HeightsPage, MarksPage, ShaftsPage, TargetPage } from "./target";
import { PlanPage, TrialPage } from "./trial";
import { Boundary } from "./ui/boundary";
import { CopyLine } from "./ui/copyline";
import { Stopped } from "./ui/stopped";
import { UndoBar } from "./ui/undobar";

const BowSoundPage = lazy(() => import("./sound").then((m) => m.BowSoundPage));
const RecordingPage = lazy(() => import("./sound").then((m) => m.RecordingPage));
const SignaturePage = lazy(() => import("./sound").then((m) => m.SignaturePage));

const standing = () => import("./standing");
const StandingPage = lazy(() => standing().then((m) => m.StandingPage));
const LedgerPage = lazy(() => standing().then((m) => m.LedgerPage));
const UpkeepPage = lazy(() => standing().then((m) => m.UpkeepPage));
const BesidePage = lazy(() => standing().then((m) => m.BesidePage));
const FitPage = lazy(() => import("./fit").then((m) => m.FitPage));
const ExplainPage = lazy(() => standing().then((m) => m.ExplainPage));
const RoundPage = lazy(() => import("./round").then((m) => m.RoundPage));
const RoundsPage = lazy(() => import("./round").then((m) => m.RoundsPage));
const SettingsPage = lazy(() => import("./settings").then((m) => m.SettingsPage));
const LoginPage = lazy(() => import("./club").then((m) => m.LoginPage));
const JoinPage = lazy(() => import("./club").then((m) => m.JoinPage));
const RecoverPage = lazy(() => import("./club").then((m) => m.RecoverPage));
const AccountPage = lazy(() => import("./club").then((m) => m.AccountPage));
const PeoplePage = lazy(() => import("./club").then((m) => m.PeoplePage));
const WeekPage = lazy(() => import("./club").then((m) => m.WeekPage));
const PutBackPage = lazy(() => import("./bow/putback").then((m) => m.PutBackPage));
const TakenBackPage = lazy(() => import("./bow/takenback").then((m) => m.TakenBackPage));
const SheetPage = lazy(() => import("./sheet").then((m) => m.SheetPage));
const HelpPage = lazy(() => import("./help").then((m) => m.HelpPage));
const LogPage = lazy(() => import("./club").then((m) => m.LogPage));

// routes are every address of the pages; docs and links may name them.
const routes: [string, (named: Record<string, string>) => preact.ComponentChildren][] = [
  ["/", () => <BenchPage />],
  ["/bows/new", () => <NewBowPage />],
  ["/bows/:id", (n) => <BowPage key={n.id} id={n.id!} />],
  ["/bows/:id/change", (n) => <ChangePage key={n.id} id={n.id!} />],
  ["/bows/:id/trial", (n) => <PlanPage key={n.id} bowId={n.id!} />],
  ["/bows/:id/trials/new", (n) => <NewTrialPage key={n.id} bowId={n.id!} />],
  ["/bows/:id/plot", (n) => <PlotPage key={n.id} bowId={n.id!} />],
  ["/bows/:id/groups", (n) => <GroupsPage key={n.id} bowId={n.id!} />],
  ["/bows/:id/ends", (n) => <TablesPage key={n.id} bowId={n.id!} />],
  ["/bows/:id/target", (n) => <TargetPage key={n.id} id={n.id!} />],
  ["/bows/:id/heights", (n) => <HeightsPage key={n.id} id={n.id!} />],
  ["/bows/:id/forgiveness", (n) => <ForgivenessPage key={n.id} id={n.id!} />],
  ["/bows/:id/marks", (n) => <MarksPage key={n.id} id={n.id!} />],
  ["/bows/:id/shafts", (n) => <ShaftsPage key={n.id} id={n.id!} />],
  ["/bows/:id/sound", (n) => <BowSoundPage key={n.id} id={n.id!} />],
  ["/bows/:id/signature", (n) => <SignaturePage key={n.id} id={n.id!} />],
  ["/recordings/:id", (n) => <RecordingPage key={n.id} id={n.id!} />],
  ["/bows/:id/standing", (n) => <StandingPage key={n.id} id={n.id!} />],
  ["/bows/:id/ledger", (n) => <LedgerPage key={n.id} id={n.id!} />],
  ["/bows/:id/upkeep", (n) => <UpkeepPage key={n.id} id={n.id!} />],
  ["/bows/:id/beside", (n) => <BesidePage key={n.id} id={n.id!} />],
  ["/bows/:id/fit", (n) => <FitPage key={n.id} id={n.id!} />],
  ["/bows/:id/explain", (n) => <ExplainPage key={n.id} id={n.id!} />],
  ["/bows/:id/round", (n) => <RoundPage id={n.id!} />],
  ["/bows/:id/taken-back", (n) => <TakenBackPage key={n.id} id={n.id!} />],
  ["/taken-back", () => <TakenBackPage />],
  ["/round", () => <RoundsPage />],
  ["/trials/:id", (n) => <TrialPage key={n.id} id={n.id!} />],
  ["/sheets/:kind/:id", (n) => <SheetPage key={`${n.kind}${n.id}`} kind={n.kind!} id={n.id!} />],
  ["/join", () => <JoinPage />],
  ["/recover", () => <RecoverPage />],
  ["/account", () => <AccountPage />],
  ["/week", () => <WeekPage />],
  ["/setups/:id/putback", (n) => <PutBackPage key={n.id} id={n.id!} />],
  ["/people", () => <PeoplePage />],
  ["/people/log", () => <LogPage />],
  ["/settings", () => <SettingsPage />],
  ["/unsent", () => <UnsentPage />],
  ["/help", () => <HelpPage />],
  ["/help/:page", (n) => <HelpPage key={n.page} name={n.page!} />],
  ["/help/errors/:code", (n) => <HelpPage key={n.code} code={n.code!} />],
];

function page(path: string): preact.ComponentChildren {
  for (const [pattern, show] of routes) {
    const named = match(pattern, path);
    if (named) return show(named);
  }
  return <NoPage />;
}

function NoPage() {
  useTitle("No such page");
  return (
    <>
      <h1>There is no such page</h1>
      <p>The address may be cut off, or older than this program.</p>
      <a class="button main" href="/">To the bench</a>
    </>
  );
}

// outside are the pages of who is not logged in.
const outside = /^\/(join|recover|help)(\/|$)/;

function App() {
  const path = usePath();
  const { account } = useAccount();
  const locked = account?.accounts && !account.person && !outside.test(path);
  const main = useRef<HTMLElement>(null);
  const first = useRef(true);
  useEffect(() => {
    if (!first.current) main.current?.focus({ preventScroll: true });
    first.current = false;
  }, [path]);
  return (
    <div onClick={onLink}>
      <a class="skip" href="#main">To the content</a>
      <Bar path={path} />
      <aside class="where no-print" aria-label="This device"><Rolling /><CopyLine /></aside>
      <main id="main" ref={main} tabIndex={-1}><Stopped /><Boundary path={path}>{locked ? <LoginPage /> : page(account?.needs_second_factor && !outside.test(path) ? "/account" : path)}</Boundary></main>
      <UndoBar />
    </div>
  );
}

function Bar({ path }: { path: string }) {
  const bow = useBarBow();
  const { account } = useAccount();
  const here = (to: string) => (path === to ? "page" : undefined);
  return (
    <header class="bar no-print">
      <a class="home" href="/">Tautline</a>
      {bow && <a class="which" href={`/bows/${bow.id}`} aria-current={here(`/bows/${bow.id}`)}>{bow.name}</a>}
      {bow?.demo && <span class="tag">invented</span>}
      <nav aria-label="Main">
        <a href="/" aria-current={here("/")}>Bench</a>
        {account?.person && <a href="/people" aria-current={here("/people")}>People</a>}
        <a href="/settings" aria-current={here("/settings")}>Settings</a>
        <a href={path.startsWith("/help") ? "/help" : `/help?from=${path}`} aria-current={here("/help")}>Help</a>
      </nav>
    </header>
  );
}

// begin draws the pages once it is known what this device keeps.
async function begin(): Promise<void> {
  earlyTheme();
  await openKept();
  const root = document.getElementById("app")!;
  root.replaceChildren(); // what stood there for a browser without scripts
  render(<AccountProvider><MeProvider><App /></MeProvider></AccountProvider>, root);
  keepFlushing();
  keepSending();
  watchWriting();
  keepPages();
}

void begin();
