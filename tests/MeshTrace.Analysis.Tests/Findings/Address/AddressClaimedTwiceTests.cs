using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Address;

/// <summary>Sequence numbers of the source 0x0003, a message every 5 s.</summary>
public sealed class AddressClaimedTwiceTests
{
    private readonly AirBuilder _air = new();
    private double _ms;

    [Fact]
    public void TwoRisingLines_AreTwoDevices()
    {
        Send(1000, 1001, 50, 1002, 51, 52, 1003, 53, 1004);
        Finding finding = Assert.Single(Found());
        Assert.Equal((Confidence.Likely, (ushort)0x0003), (finding.Confidence, finding.Node!.Value.Value));
    }

    [Fact]
    public void LinesThatRunCloseToEachOther_AreTold() => Run(true, 1000, 990, 1001, 991, 1002, 992, 1003);

    [Fact]
    public void ARisingLine_WithGapsAndAJump_IsOneDevice() => Run(false, 10, 11, 15, 16, 5000, 5001, 5002, 5003, 5009);

    [Fact]
    public void ADeviceThatBeginsAnew_IsOneDevice() => Run(false, 1000, 1001, 1002, 0, 1, 2, 3, 4, 5, 6, 7);

    [Fact]
    public void ADeviceThatBeginsAnewAgainAndAgain_AndOvertakes_IsOneDevice() => Run(false, 4, 5, 0, 1, 2, 0, 1, 2, 3, 4, 5, 6, 7, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 0, 1, 2);

    /// <summary>Copies that a relay held back: the number was used before, and comes within two seconds of newer ones.</summary>
    [Fact]
    public void NumbersThatComeLate_AreOneDevice()
    {
        for (int i = 0; i < 10; i++)
        {
            Say(1000, (uint)(101 + (2 * i)));
            Say(1000, (uint)(100 + (2 * i)));
        }
        Assert.Empty(Found());
    }

    private void Run(bool found, params uint[] numbers)
    {
        Send(numbers);
        Assert.Equal(found, Found().Length == 1);
    }

    private void Send(params uint[] numbers)
    {
        foreach (uint seq in numbers)
            Say(5000, seq);
    }

    private void Say(double laterMs, uint seq)
    {
        _ms += laterMs;
        _air.Access(_ms, 5, seq, 0x0003, 0xC001, $"820301{(int)(_ms / 1000) & 0xFF:x2}");
    }

    private Finding[] Found() => [.. _air.Analyse().Findings.Where(finding => finding.Id == "address-claimed-twice")];
}
