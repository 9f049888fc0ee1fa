using MeshTrace.Protocol.Access;

namespace MeshTrace.Protocol.Tests.Access;

public class AccessReaderTests
{
    // Layouts: Mesh Model 1.1 §3.2.1.2 and §3.2.1.4; transition time 0x54 = 20 steps of 1 s (§3.1.3); delay 5 ms a step.
    [Fact]
    public void GenericOnOffSet_WithAndWithoutTransition()
    {
        DecodedMessage bare = AccessReader.Read(Convert.FromHexString("82020105"));
        Assert.Equal(("Generic OnOff Set", 2), (bare.Definition!.Name, bare.Fields.Count));
        Assert.False(bare.Problem.IsProblem);

        DecodedMessage full = AccessReader.Read(Convert.FromHexString("82020105540A"));
        Assert.Equal((1L, 5L, 0x54L, 10L), (full["OnOff"]!.Number, full["TID"]!.Number, full["TransitionTime"]!.Number, full["Delay"]!.Number));
        Assert.Equal(("on", "20.0 s", "50 ms"), (full["OnOff"]!.Reads, full["TransitionTime"]!.Reads, full["Delay"]!.Reads));
        Assert.Null(full["TID"]!.Reads);
        Assert.Equal("82020105540A", Convert.ToHexString(AccessWriter.Write(full)));
        Assert.Equal("82020105540A", Convert.ToHexString(AccessWriter.Write("Generic OnOff Set", ("TID", 5), ("OnOff", 1), ("TransitionTime", 0x54), ("Delay", 10))));
    }
}
