DROP TABLE variances, variance_fits;
