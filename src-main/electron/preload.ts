/** Runs in the sandbox before every page: offers the page one way to ask for a message port, and nothing else. */
import { contextBridge, ipcRenderer } from 'electron'
import { PORT_ANSWER, PORT_REQUEST } from '#shared/contract/wire.ts'

declare const location: { readonly origin: string }
declare const postMessage: (message: unknown, targetOrigin: string, transfer: unknown[]) => void

ipcRenderer.on(PORT_ANSWER, (event) => postMessage(PORT_ANSWER, location.origin, [...event.ports]))
contextBridge.exposeInMainWorld('slewlight', {
  host: 'desktop',
  requestPort: () => ipcRenderer.send(PORT_REQUEST),
})
