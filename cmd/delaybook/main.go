// Command delaybook keeps the measured delays of a company's rigs and says what to set.
package main

func main() {}
