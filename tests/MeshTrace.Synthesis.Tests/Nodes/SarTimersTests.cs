using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Tests.Nodes;

public class SarTimersTests
{
    // Mesh Protocol 1.1 §3.5.3.3, §4.2.48: interval step 200 ms + increment 50 ms x (TTL - 1), TTL 0: the step alone.
    // Mesh Profile 1.0 §3.5.3.3 (from memory): 200 + 50 x TTL ms.
    [Theory]
    [InlineData("V11", 0, 200)]
    [InlineData("V11", 1, 200)]
    [InlineData("V11", 5, 400)]
    [InlineData("V10", 0, 200)]
    [InlineData("V10", 5, 450)]
    public void Retransmission(string edition, int ttl, int ms) =>
        Assert.Equal(ms, SarTimers.RetransmissionMs(Enum.Parse<SarEdition>(edition), ttl));

    // Mesh Protocol 1.1 §3.5.3.4: the smaller of SegN + 0.5 and 2.5, times 60 ms. Mesh Profile 1.0 §3.5.3.4 (from memory): 150 + 50 x TTL
    // ms.
    [Theory]
    [InlineData("V11", 5, 1, 90)]
    [InlineData("V11", 5, 2, 150)]
    [InlineData("V11", 5, 31, 150)]
    [InlineData("V10", 5, 1, 400)]
    [InlineData("V10", 0, 1, 150)]
    public void Acknowledgment(string edition, int ttl, int segN, int ms) =>
        Assert.Equal(ms, SarTimers.AcknowledgmentMs(Enum.Parse<SarEdition>(edition), ttl, segN));
}
