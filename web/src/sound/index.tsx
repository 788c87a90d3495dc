// The pages of sound: a recording, a bow's recordings, its signature. They are
// loaded when first needed.
export { BowSoundPage } from "./bow";
export { RecordingPage } from "./page";
export { SignaturePage } from "./signature";
