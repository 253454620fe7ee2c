// Solves symmetric positive definite systems in place: Cholesky's factor of small dense matrices, rows of one flat array.

/** Overwrites the lower triangle of `matrix` (size x size) with its Cholesky factor. Throws where the matrix is not positive definite. */
export function factorInto(matrix: Float64Array, size: number): void {
  for (let column = 0; column < size; column++) {
    let pivot = matrix[column * size + column]
    for (let inner = 0; inner < column; inner++) pivot -= matrix[column * size + inner] ** 2
    if (!(pivot > 0)) throw new RangeError(`matrix must be positive definite; got pivot ${pivot} in column ${column}`)
    const root = Math.sqrt(pivot)
    matrix[column * size + column] = root
    for (let row = column + 1; row < size; row++) {
      let sum = matrix[row * size + column]
      for (let inner = 0; inner < column; inner++) sum -= matrix[row * size + inner] * matrix[column * size + inner]
      matrix[row * size + column] = sum / root
    }
  }
}

/** Overwrites `right` with L^-1 right, for a factor made by `factorInto`. */
export function forwardInto(factor: Float64Array, size: number, right: Float64Array): void {
  for (let row = 0; row < size; row++) {
    let sum = right[row]
    for (let inner = 0; inner < row; inner++) sum -= factor[row * size + inner] * right[inner]
    right[row] = sum / factor[row * size + row]
  }
}
