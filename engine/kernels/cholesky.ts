// Small dense symmetric positive definite systems, row-major, factored as A = L L'.

/** Overwrites the lower triangle of the n x n matrix with its factor L. False when a pivot is not positive; the matrix is then spoiled. */
export function choleskyInto(a: Float64Array, n: number): boolean {
  for (let j = 0; j < n; j++) {
    for (let i = j; i < n; i++) {
      let sum = a[i * n + j]
      for (let k = 0; k < j; k++) sum -= a[i * n + k] * a[j * n + k]
      if (i === j) {
        if (!(sum > 0)) return false
        a[j * n + j] = Math.sqrt(sum)
      } else {
        a[i * n + j] = sum / a[j * n + j]
      }
    }
  }
  return true
}

/** x with L L' x = b. */
export function choleskySolve(factor: Float64Array, n: number, b: Float64Array): Float64Array {
  const x = Float64Array.from(b)
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) x[i] -= factor[i * n + k] * x[k]
    x[i] /= factor[i * n + i]
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) x[i] -= factor[k * n + i] * x[k]
    x[i] /= factor[i * n + i]
  }
  return x
}

/** The inverse of L L', both triangles filled. */
export function choleskyInverse(factor: Float64Array, n: number): Float64Array {
  const lower = new Float64Array(n * n)
  for (let j = 0; j < n; j++) {
    lower[j * n + j] = 1 / factor[j * n + j]
    for (let i = j + 1; i < n; i++) {
      let sum = 0
      for (let k = j; k < i; k++) sum -= factor[i * n + k] * lower[k * n + j]
      lower[i * n + j] = sum / factor[i * n + i]
    }
  }
  const inverse = new Float64Array(n * n)
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = 0
      for (let k = i; k < n; k++) sum += lower[k * n + i] * lower[k * n + j]
      inverse[i * n + j] = sum
      inverse[j * n + i] = sum
    }
  }
  return inverse
}

/** ln det(L L'). */
export function choleskyLogDeterminant(factor: Float64Array, n: number): number {
  let sum = 0
  for (let i = 0; i < n; i++) sum += Math.log(factor[i * n + i])
  return 2 * sum
}

/** x' M y for a full n x n matrix. */
export function quadratic(x: Float64Array, matrix: Float64Array, y: Float64Array): number {
  const n = x.length
  let sum = 0
  for (let i = 0; i < n; i++) {
    let row = 0
    for (let j = 0; j < n; j++) row += matrix[i * n + j] * y[j]
    sum += x[i] * row
  }
  return sum
}
