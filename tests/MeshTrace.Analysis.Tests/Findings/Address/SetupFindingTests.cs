using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Commissioning;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Tests.Findings.Address;

/// <summary>A device joins as 0x0B0C; then the client at 0x0001 sets it up, or stops half way.</summary>
public sealed class SetupFindingTests
{
    private const ushort Node = ProvisioningSession.Unicast;
    private readonly AirBuilder _air = new();
    private uint _seq = 1;

    [Theory]
    [InlineData(0, true), InlineData(1, true), InlineData(2, true), InlineData(3, false)]
    public void StepsThatAreMissing_AreNamed(int steps, bool found)
    {
        byte[] key = Join();
        SetUp(steps, key);
        Others(200_000);
        Finding[] findings = Found();
        Assert.Equal(found, findings.Length == 1);
        Assert.All(findings, finding => Assert.Equal(Node, finding.Node!.Value.Value));
        if (steps == 2)
            Assert.Contains("binding", findings[0].Says, StringComparison.Ordinal);
        if (steps == 0)
            Assert.Equal(Confidence.Possible, findings[0].Confidence);      // it may have been set up over a connection
    }

    [Fact]
    public void SoonAfterTheLastMessage_NothingIsMissingYet()
    {
        SetUp(1, Join());
        Others(40_000);
        Assert.Empty(Found());
    }

    [Fact]
    public void ANodeThatSendsUnderAnAppKey_WasSetUp_WhateverWasHeard()
    {
        SetUp(0, Join());
        _air.Access(100_000, 5, 50, Node, 0xC0F0, "820401");
        Others(200_000);
        Assert.Empty(Found());
    }

    private byte[] Join()
    {
        var session = new ProvisioningSession(_air);
        session.Open();
        session.Run();
        session.Close(LinkCloseReason.Success);
        return session.DeviceKey;
    }

    /// <summary>Composition Data, AppKey Add, Model App Bind, each with its Status.</summary>
    private void SetUp(int steps, byte[] key)
    {
        string[][] talk =
        [
            ["800800", "0200ffff01000100200000000000" + "0100" + "0010"],
            ["00" + "670500" + Convert.ToHexString(AirBuilder.AppKey), "8003" + "00" + "670500"],
            ["803d" + "0c0b" + "0000" + "0010", "803e" + "00" + "0c0b" + "0000" + "0010"],
        ];
        for (int step = 0; step < steps; step++)
        {
            Say(10_000 + (step * 1000), 0x0001, Node, talk[step][0], key);
            Say(10_500 + (step * 1000), Node, 0x0001, talk[step][1], key);
        }
    }

    /// <summary>The client goes on being heard, number by number.</summary>
    private void Others(double untilMs)
    {
        for (double ms = 15_000; ms <= untilMs; ms += 5_000)
            _air.Access(ms, 5, _seq++, 0x0001, 0xC001, "8201");
    }

    private void Say(double ms, ushort src, ushort dst, string payload, byte[] key)
    {
        if (payload.Length <= 22)
        {
            _air.Access(ms, 5, _seq++, src, dst, payload, deviceKey: key);
            return;
        }
        List<byte[]> segments = _air.Segments(payload, _seq, src, dst, key);
        for (int i = 0; i < segments.Count; i++)
            _air.Network(ms + i, false, 5, _seq++, src, dst, segments[i]);
    }

    private Finding[] Found()
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings
        {
            Keys = new KeyArguments { AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))], ProvisioningKeys = [ProvisioningSession.DevicePrivateKey] },
        });
        analysis.Read(_air.Frames);
        return [.. analysis.Complete().Findings.Where(finding => finding.Id == "setup-unfinished")];
    }
}
