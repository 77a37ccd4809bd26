//! The inverse of a small symmetric positive definite matrix. Nothing else of linear algebra is needed here.

/// The inverse of a symmetric positive definite matrix, row by row.
///
/// The matrices here have at least one on the diagonal from noise, so the decomposition cannot break down; a pivot
/// that rounding made too small is raised to the smallest that keeps numbers finite.
#[must_use]
pub fn inverse(matrix: &[f64], size: usize) -> Vec<f64> {
    let lower = cholesky(matrix, size);
    let triangle = lower_inverse(&lower, size);
    let mut result = vec![0.0; size * size];
    for i in 0..size {
        for j in 0..=i {
            let sum: f64 = (i..size).map(|k| triangle[k * size + i] * triangle[k * size + j]).sum();
            result[i * size + j] = sum;
            result[j * size + i] = sum;
        }
    }
    result
}

/// The lower triangle `L` with `L·Lᵀ = matrix`.
fn cholesky(matrix: &[f64], size: usize) -> Vec<f64> {
    const PIVOT_MIN: f64 = 1e-12;
    let mut lower = vec![0.0; size * size];
    for i in 0..size {
        for j in 0..=i {
            let (left, right) = (&lower[i * size..i * size + j], &lower[j * size..j * size + j]);
            let sum: f64 = left.iter().zip(right).map(|(a, b)| a * b).sum();
            let rest = matrix[i * size + j] - sum;
            lower[i * size + j] = if i == j { rest.max(PIVOT_MIN).sqrt() } else { rest / lower[j * size + j] };
        }
    }
    lower
}

/// The inverse of a lower triangle, itself a lower triangle.
fn lower_inverse(lower: &[f64], size: usize) -> Vec<f64> {
    let mut result = vec![0.0; size * size];
    for i in 0..size {
        result[i * size + i] = 1.0 / lower[i * size + i];
        for j in 0..i {
            let sum: f64 = (j..i).map(|k| lower[i * size + k] * result[k * size + j]).sum();
            result[i * size + j] = -sum / lower[i * size + i];
        }
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_the_matrix_it_is_one() {
        let matrix = [4.0, 1.0, 0.5, 1.0, 3.0, 0.2, 0.5, 0.2, 2.0];
        let inverse = inverse(&matrix, 3);
        for i in 0..3 {
            for j in 0..3 {
                let product: f64 = (0..3).map(|k| matrix[i * 3 + k] * inverse[k * 3 + j]).sum();
                assert!((product - f64::from(u8::from(i == j))).abs() < 1e-12, "{i} {j} {product}");
            }
        }
    }
}
