package analyst

// DecodingTime is for tests of the table.
var DecodingTime = decodingTime
