# A slope common to two groups with their own levels.  Run:  Rscript reference/trend/trend.R > reference/trend/trend.json
groupOf <- c(3, 3, 3, 3, 8, 8, 8)
x <- c(0.5, 1.25, 4, 6.5, 100, 101.5, 107)
y <- c(2.31, 2.28, 2.12, 2.09, -7.4, -7.52, -7.71)
fit <- summary(lm(y ~ factor(groupOf) + x))
list <- function(v) paste0("[", paste(sprintf("%.17g", v), collapse = ", "), "]")
cat(sprintf('{\n "program": "%s",\n "script": "reference/trend/trend.R",\n "input": {"groupOf": %s, "x": %s, "y": %s},\n "output": {"slope": %.17g, "standardError": %.17g, "df": %d}\n}\n',
            R.version.string, list(groupOf), list(x), list(y), fit$coefficients["x", 1], fit$coefficients["x", 2], fit$df[2]))
