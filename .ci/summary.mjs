// Adds up what the two test runners wrote and prints one closing line.
import { readFileSync } from 'node:fs'

const unit = JSON.parse(readFileSync('test-results/unit.json', 'utf8'))
const e2e = JSON.parse(readFileSync('test-results/e2e.json', 'utf8')).stats
const passed = unit.numPassedTests + e2e.expected + e2e.flaky
const failed = unit.numFailedTests + e2e.unexpected
const skipped = unit.numPendingTests + unit.numTodoTests + e2e.skipped
console.log(`unit and integration: ${unit.numPassedTests} passed; end to end: ${e2e.expected} passed, ${e2e.flaky} on a retry`)
console.log(`${passed} passed, ${failed} failed, ${skipped} skipped`)
if (failed > 0 || passed === 0) process.exitCode = 1
