import { Component, type ComponentChildren } from "preact";

interface Props { path: string; children: ComponentChildren }

// Boundary catches a fault of a page, so that the frame and everything typed
// stay. Another page clears it.
export class Boundary extends Component<Props, { fault?: Error; at?: string }> {
  override state: { fault?: Error; at?: string } = {};
  override componentDidCatch(fault: Error): void {
    console.error(fault);
    this.setState({ fault, at: this.props.path });
  }
  override render() {
    const { fault, at } = this.state;
    if (!fault || at !== this.props.path) return this.props.children;
    return (
      <div class="note bad" role="alert">
        <h1>This page failed</h1>
        <p>What you typed is kept on this device, and what was stored is untouched.</p>
        <p class="row">
          <button type="button" onClick={() => location.reload()}>Load it anew</button>
          <a class="button" href="/">Back to the bench</a>
        </p>
        <details><summary>For a report</summary><pre>{fault.stack ?? fault.message}</pre></details>
      </div>
    );
  }
}
