import './guard.ts'
import { fileURLToPath } from 'node:url'
import { serve } from './serve.ts'

void serve(process.argv.slice(2), fileURLToPath(new URL('../renderer', import.meta.url)))
