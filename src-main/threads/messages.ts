/** What travels between this program's threads. */
import type { ErrorDetail } from '#shared/domain/errors.ts'

/** What a thread can be asked, by name; its table of functions has this type. */
// Any function of any arguments: `never` takes none and is assigned all.
export type Calls = Readonly<Record<string, (...args: never[]) => unknown>>

export type CallMessage =
  | { readonly id: number; readonly name: string; readonly args: readonly unknown[] }
  /** Ends the thread once it has answered what it was asked before. */
  | { readonly leave: true }

/** The first message says that the thread has loaded its code (`ready`); the others are answers in order. */
export type ReplyMessage =
  | { readonly ready: true }
  | { readonly id: number; readonly ms: number; readonly value: unknown }
  | { readonly id: number; readonly ms: number; readonly error: ErrorDetail }
