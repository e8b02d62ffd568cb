# Answers each line of compare_statistics with R and prints the greatest relative difference of each method.
#   Rscript compare-statistics.R LINES
suppressMessages(library(spc))
lines <- readLines(commandArgs(TRUE)[1])
numbers <- function(text) as.numeric(strsplit(text, ",")[[1]])
pairs_of <- function(x) matrix(x, ncol = 2, byrow = TRUE) # events, trials
quietly <- suppressWarnings

wilson <- function(x, n) { # prop.test clips at 0 and 1
    as.numeric(quietly(prop.test(x, n, correct = FALSE))$conf.int)
}
newcombe <- function(v) { # from two intervals of prop.test: the formula of the paper
    a <- wilson(v[1], v[2]); b <- wilson(v[3], v[4])
    p <- v[1] / v[2]; q <- v[3] / v[4]
    c(max(p - q - sqrt((p - a[1])^2 + (b[2] - q)^2), -1), min(p - q + sqrt((a[2] - p)^2 + (q - b[1])^2), 1))
}
layers <- function(v) {
    m <- matrix(v, ncol = 4, byrow = TRUE) # events, trials, events, trials
    cells <- array(rbind(m[, 1], m[, 2] - m[, 1], m[, 3], m[, 4] - m[, 3]), c(2, 2, nrow(m)))
    plain <- mantelhaen.test(cells, correct = FALSE); corrected <- mantelhaen.test(cells)
    c(plain$statistic, plain$p.value, corrected$statistic, corrected$p.value, plain$estimate)
}
fisher <- function(v) {
    m <- matrix(c(v[1], v[2] - v[1], v[3], v[4] - v[3]), 2)
    sapply(c("less", "greater", "two.sided"), function(side) fisher.test(m, alternative = side)$p.value)
}
yates <- function(v) {
    test <- quietly(chisq.test(matrix(c(v[1], v[2] - v[1], v[3], v[4] - v[3]), 2)))
    c(test$statistic, test$p.value)
}
tabled <- function(v) matrix(v[-(1:2)], v[1], byrow = TRUE)
table_all <- function(v) {
    m <- tabled(v)
    test <- quietly(chisq.test(m, correct = FALSE))
    g <- 2 * sum(m * log(m / test$expected))
    c(test$statistic, test$p.value, g, pchisq(g, test$parameter, lower.tail = FALSE), test$stdres[1, 1])
}
bernoulli <- function(v) { # the whole chain, solved at once
    m <- v[1]; h <- v[2]; p <- v[3]
    q <- matrix(0, h, h)
    for (s in 0:(h - 1)) {
        q[s + 1, max(s - 1, 0) + 1] <- q[s + 1, max(s - 1, 0) + 1] + 1 - p
        if (s + m - 1 < h) q[s + 1, s + m] <- q[s + 1, s + m] + p
    }
    solve(diag(h) - q, rep(1, h))[1]
}
answers <- list(
    wilson = function(v) wilson(v[1], v[2]),
    exact = function(v) as.numeric(binom.test(v[1], v[2], conf.level = 1 - v[3])$conf.int),
    newcombe = newcombe,
    binomial = function(v) c(pbinom(v[1] - 1, v[2], v[3], lower.tail = FALSE), pbinom(v[1], v[2], v[3])),
    fisher = fisher, yates = yates,
    poisson = function(v) sapply(c("less", "greater", "two.sided"), function(side)
        poisson.test(c(v[1], v[3]), c(v[2], v[4]), alternative = side)$p.value),
    trend = function(v) { test <- quietly(prop.trend.test(pairs_of(v)[, 1], pairs_of(v)[, 2])); c(test$statistic, test$p.value) },
    layers = layers, table = table_all,
    exact_table = function(v) fisher.test(tabled(v), workspace = 2e7)$p.value,
    many = function(v) p.adjust(v, "BH"),
    moments = function(v) c(mean(v), sd(v)),
    cusum = function(v) xcusum.arl(v[1], v[2], v[4], hs = v[3], sided = "two", r = 80),
    ewma = function(v) xewma.arl(v[1], v[2], v[3], sided = "two", r = 80),
    bernoulli = bernoulli)

worst <- list(); counted <- list(); where <- list()
for (line in lines) {
    part <- strsplit(line, ";")[[1]]
    ours <- numbers(part[3])
    theirs <- tryCatch(as.numeric(answers[[part[1]]](numbers(part[2]))), error = function(e) stop(line, ": ", e))
    # A statistic of nothing at all is 0 here and may be dust of rounding there; below 1e-290 numbers lose digits.
    none <- (ours == 0 & abs(theirs) < 1e-12) | (abs(theirs) < 1e-290 & abs(ours) < 1e-290)
    off <- max(ifelse(none, 0, abs(ours - theirs) / pmax(abs(theirs), 1e-300)))
    if (is.null(worst[[part[1]]]) || off > worst[[part[1]]]) where[[part[1]]] <- line
    worst[[part[1]]] <- max(off, worst[[part[1]]])
    counted[[part[1]]] <- length(ours) + sum(counted[[part[1]]])
}
limit <- c(cusum = 1e-8, ewma = 1e-8) # integral equations: no exact answer on either side
bad <- 0
cat(sprintf("%s, spc %s\n", R.version.string, packageVersion("spc")))
for (method in names(worst)) {
    most <- if (method %in% names(limit)) limit[[method]] else 1e-9
    cat(sprintf("%-12s %6d answers, greatest relative difference %.1e (at most %.0e)\n", method, counted[[method]],
                worst[[method]], most))
    if (worst[[method]] > most) { bad <- bad + 1; cat("   ", where[[method]], "\n") }
}
quit(status = min(bad, 1))
