# The neighbour of `fairloaf report` in the table of speeds: what a statistician would write in R for
# the same 48 loaves. Reads the records, fits by restricted maximum likelihood, tests with Kenward and
# Roger's degrees of freedom, gives means and differences, draws one picture and writes one page.
# Call: Rscript report_of_48_loaves.R loaves.csv page.html   (R with lme4, lmerTest and pbkrtest)

suppressPackageStartupMessages(library(lmerTest))
files <- commandArgs(trailingOnly = TRUE)
options(contrasts = c("contr.sum", "contr.poly"))

loaves <- read.csv(files[1])
loaves$specific_volume <- (loaves$box_ml - loaves$seed_ml) / loaves$loaf_g
for (name in c("formula", "tin", "proof_min", "day", "mix"))
  loaves[[name]] <- factor(loaves[[name]])

model <- lmer(specific_volume ~ day + (formula + tin + proof_min)^2 + (1 | mix), loaves)
tests <- anova(model, type = 3, ddf = "Kenward-Roger")
means <- ls_means(model, which = c("formula", "tin", "proof_min"), ddf = "Kenward-Roger")
pairs <- ls_means(model, which = c("formula", "tin", "proof_min"), pairwise = TRUE,
                  ddf = "Kenward-Roger")
parts <- as.data.frame(VarCorr(model))[, c("grp", "vcov", "sdcor")]

picture <- tempfile(fileext = ".svg")
svg(picture, width = 6, height = 4)
stripchart(specific_volume ~ formula, loaves, vertical = TRUE, method = "jitter", pch = 1,
           ylab = "Specific volume (mL/g)")
invisible(dev.off())

table_of <- function(frame) {
  cells <- cbind(rownames(frame), format(frame, digits = 4))
  row <- function(cells, tag)
    paste0("<tr>", paste0("<", tag, ">", cells, "</", tag, ">", collapse = ""), "</tr>")
  paste0("<table>", row(c("", colnames(frame)), "th"),
         paste(apply(cells, 1, row, tag = "td"), collapse = "\n"), "</table>")
}
page <- c("<!doctype html><meta charset='utf-8'><title>Specific volume</title><h1>Specific volume</h1>",
          "<h2>Tests</h2>", table_of(as.data.frame(tests)),
          "<h2>Means</h2>", table_of(as.data.frame(means)),
          "<h2>Differences</h2>", table_of(as.data.frame(pairs)),
          "<h2>Scatter</h2>", table_of(parts),
          readLines(picture)[-1])
writeLines(page, files[2])
