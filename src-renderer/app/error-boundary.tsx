import { Component, type ReactNode } from 'react'
import { Action } from '../ui/controls.tsx'

interface Props {
  readonly children: ReactNode
}

/** A fault of one screen leaves the navigation, the banners and the running sweep alone. */
export class ErrorBoundary extends Component<Props, { readonly problem: string | null }> {
  override state: { readonly problem: string | null } = { problem: null }

  static getDerivedStateFromError(error: unknown): { problem: string } {
    return { problem: error instanceof Error ? error.message : String(error) }
  }

  override render(): ReactNode {
    const { problem } = this.state
    if (problem === null) return this.props.children
    return (
      <div className="waiting" role="alert">
        <div className="stack">
          <strong>This screen could not be drawn: {problem}</strong>
          <span>The host keeps working. Draw the screen again, or reload the page.</span>
          <Action tone="main" onPress={() => this.setState({ problem: null })}>
            Draw again
          </Action>
        </div>
      </div>
    )
  }
}
