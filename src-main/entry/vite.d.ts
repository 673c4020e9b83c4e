/** Worker threads as electron-vite builds them: the default export starts one. */
declare module '*?nodeWorker' {
  import type { Worker, WorkerOptions } from 'node:worker_threads'
  export default function createWorker(options: WorkerOptions): Worker
}
