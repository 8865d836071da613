package sparse

// buckets keeps unknowns by degree, last in first out.
type buckets struct {
	head       []int32 // by degree, -1 when empty
	next, prev []int32
	low        int
}

func newBuckets(n int) buckets {
	b := buckets{head: make([]int32, n+1), next: make([]int32, n), prev: make([]int32, n)}
	for d := range b.head {
		b.head[d] = -1
	}
	return b
}

func (b *buckets) push(i, degree int32) {
	h := b.head[degree]
	b.next[i], b.prev[i] = h, -1
	if h >= 0 {
		b.prev[h] = i
	}
	b.head[degree] = i
	b.low = min(b.low, int(degree))
}

func (b *buckets) remove(i, degree int32) {
	if b.prev[i] >= 0 {
		b.next[b.prev[i]] = b.next[i]
	} else {
		b.head[degree] = b.next[i]
	}
	if b.next[i] >= 0 {
		b.prev[b.next[i]] = b.prev[i]
	}
}

func (b *buckets) least() int32 {
	for b.head[b.low] < 0 {
		b.low++
	}
	return b.head[b.low]
}
