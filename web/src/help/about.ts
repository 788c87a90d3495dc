import { match } from "../lib/route";

// about says which places of the manual tell of a page: who comes from a page
// by "Help" is shown them first. A test looks that every page of the program is
// here, and every place in the manual (web/build/help_test.go).
export const about: [string, string[]][] = [
  ["/", ["first-evening", "how-to", "on-the-phone#at-the-range-without-the-notebook"]],
  ["/bows/new", ["first-evening", "notebook-format#a-bow-file"]],
  ["/bows/:id", ["how-to", "first-evening", "does-it-still-count#keep-it"]],
  ["/bows/:id/change", ["at-the-target#move-something-and-watch-the-holes", "does-it-still-count#look"]],
  ["/bows/:id/trial", ["first-evening", "how-to#-work-with-pencil-and-paper"]],
  ["/bows/:id/trials/new", ["plot-and-compare#plan-a-trial-and-follow-it", "plot-and-compare#bare-shaft", "plot-and-compare#walk-back", "plot-and-compare#two-set-ups-by-groups"]],
  ["/bows/:id/plot", ["plot-and-compare#plot-an-end-at-the-range", "plot-and-compare#from-a-photo-of-the-face", "on-the-phone#at-the-range-without-the-notebook"]],
  ["/bows/:id/groups", ["plot-and-compare#what-a-group-tells", "plot-and-compare#compare-two-set-ups", "why-groups"]],
  ["/bows/:id/ends", ["plot-and-compare#tables"]],
  ["/bows/:id/target", ["at-the-target#move-something-and-watch-the-holes", "why-arrow"]],
  ["/bows/:id/heights", ["at-the-target#a-bare-shaft-lands-high-or-low", "plot-and-compare#bare-shaft", "why-vertical"]],
  ["/bows/:id/forgiveness", ["at-the-target#what-is-it-forgiving-of", "why-forgiveness"]],
  ["/bows/:id/marks", ["at-the-target#sight-marks-for-the-days-air", "why-flight"]],
  ["/bows/:id/shafts", ["at-the-target#shafts-to-try"]],
  ["/bows/:id/sound", ["sound#record-a-session", "sound#compare-two-settings"]],
  ["/bows/:id/signature", ["sound#signature-and-odd-shots"]],
  ["/recordings/:id", ["sound#put-a-shot-right", "sound#record-a-session"]],
  ["/bows/:id/standing", ["does-it-still-count#look", "why-standing"]],
  ["/bows/:id/ledger", ["does-it-still-count#did-the-forecasts-come-true"]],
  ["/bows/:id/upkeep", ["does-it-still-count#keep-it"]],
  ["/bows/:id/beside", ["does-it-still-count#two-set-ups-side-by-side-and-a-spare-to-match"]],
  ["/bows/:id/fit", ["fitted-bow", "why-fit"]],
  ["/bows/:id/explain", ["does-it-still-count#explain"]],
  ["/bows/:id/round", ["on-the-phone#labels-and-the-round"]],
  ["/bows/:id/taken-back", ["how-to#-take-something-back"]],
  ["/taken-back", ["how-to#-take-something-back"]],
  ["/round", ["on-the-phone#labels-and-the-round"]],
  ["/trials/:id", ["plot-and-compare#plan-a-trial-and-follow-it", "first-evening", "how-to#-work-with-pencil-and-paper", "on-the-phone#at-the-range-without-the-notebook"]],
  ["/sheets/:kind/:id", ["how-to#-give-somebody-a-page", "how-to#-work-with-pencil-and-paper"]],
  ["/join", ["club#who-may-do-what", "club#archers-under-age"]],
  ["/recover", ["club#lost-passwords"]],
  ["/account", ["club#the-second-factor", "club#leaving"]],
  ["/week", ["club#the-coachs-week"]],
  ["/setups/:id/putback", ["club#the-coachs-week"]],
  ["/people", ["club#who-may-do-what", "club#archers-under-age", "club#leaving"]],
  ["/people/log", ["club#who-may-do-what"]],
  ["/settings", ["how-to#-read-in-your-own-units", "on-the-phone", "club#backups-and-getting-them-back", "club#when-something-is-wrong"]],
  ["/unsent", ["on-the-phone#at-the-range-without-the-notebook", "errors"]],
];

// placesFor a page of the program.
export const placesFor = (path: string): string[] => about.find(([pattern]) => match(pattern, path))?.[1] ?? [];
