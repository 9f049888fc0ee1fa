using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Provisioning;
using Algorithm = MeshTrace.Protocol.Provisioning.ProvisioningAlgorithm;

namespace MeshTrace.Analysis.Tests.Commissioning;

public sealed class ProvisioningTests
{
    private static readonly byte[] StaticValue = Convert.FromHexString("00112233445566778899aabbccddeeff");
    private readonly AirBuilder _air = new();

    public static TheoryData<Algorithm, bool> Sides { get; } = new()
    {
        { Algorithm.CmacAes128, true }, { Algorithm.CmacAes128, false }, { Algorithm.HmacSha256, true }, { Algorithm.HmacSha256, false },
    };

    [Theory, MemberData(nameof(Sides))]
    public void WithThePrivateKeyOfEitherSide_TheNetworkIsOpened_WithKeysLearntOnlyThatWay(Algorithm algorithm, bool provisioner)
    {
        var session = new ProvisioningSession(_air, algorithm);
        session.Open();
        session.Run();
        session.Close(LinkCloseReason.Success);
        byte[] appKey = Convert.FromHexString("63964771734fbd76e3b40519d1d94a48");
        List<byte[]> segments = _air.Segments("00" + "671500" + Convert.ToHexString(appKey), 10, 0x0001, ProvisioningSession.Unicast, session.DeviceKey);
        for (int i = 0; i < segments.Count; i++)
            _air.Network(5_000 + (20 * i), false, 5, (uint)(10 + i), 0x0001, ProvisioningSession.Unicast, segments[i]);
        _air.Access(6_000, 5, 20, 0x0001, 0xC001, "82020107", appKey: appKey);

        CaptureHistory history = Analyse(new KeyArguments
        {
            ProvisioningKeys = [provisioner ? ProvisioningSession.ProvisionerPrivateKey : ProvisioningSession.DevicePrivateKey],
        });

        ProvisioningLink link = Assert.Single(history.Provisionings);
        Assert.Equal((ProvisioningOutcome.Complete, true, ConfirmationCheck.Right, PrivateKeyUse.Opened), (link.Outcome, link.KeysLearnt, link.Confirmation, link.PrivateKey));
        Assert.Equal((ProvisioningSession.Unicast, ProvisioningSession.NetKeyIndex, ProvisioningSession.DeviceUuid), (link.Unicast!.Value.Value, link.NetKeyIndex, link.DeviceUuid));
        Assert.Equal(KeyOrigin.Provisioning, Assert.Single(history.Keys.Subnets).Origin);
        Assert.Equal(KeyOrigin.ConfigMessage, Assert.Single(history.Keys.AppKeys).Origin);
        Assert.Equal("82020107", Convert.ToHexStringLower(history.PayloadOf(history.Messages.Count - 1)));
        Assert.Equal("on", Assert.Single(history.Presses).Asks);
    }

    /// <summary>A key that opens nothing is told apart: of somebody else, or not enough was heard.</summary>
    [Theory, InlineData(false, PrivateKeyUse.OfNeitherSide), InlineData(true, PrivateKeyUse.NotAllHeard)]
    public void APrivateKeyThatOpensNothing_IsToldWhy(bool fits, PrivateKeyUse expected)
    {
        var session = new ProvisioningSession(_air);
        if (!fits)
            session.Run();
        else
            session.Send(false, [0x00, 0x05]);
        byte[] key = fits ? ProvisioningSession.ProvisionerPrivateKey : [.. Enumerable.Range(1, 32).Select(octet => (byte)octet)];
        ProvisioningLink link = Assert.Single(Analyse(new KeyArguments { ProvisioningKeys = [key] }).Provisionings);
        Assert.Equal((expected, false), (link.PrivateKey, link.KeysLearnt));
    }

    [Fact]
    public void WithoutAPrivateKey_ThePdusAreRead_AndNothingIsLearnt()
    {
        var session = new ProvisioningSession(_air);
        session.Open();
        session.Run();
        CaptureHistory history = Analyse(new KeyArguments { ProvisioningOobValues = [new byte[16]] });
        ProvisioningLink link = Assert.Single(history.Provisionings);
        Assert.Equal([0, 1, 2, 3, 3, 5, 5, 6, 6, 7, 8], link.Pdus.Select(pdu => (int)pdu.Type));
        Assert.Equal([false, true, false, false, true, false, true, false, true, false, true], link.Pdus.Select(pdu => pdu.FromDevice));
        Assert.Equal((ProvisioningOutcome.Complete, false, 0), (link.Outcome, link.KeysLearnt, link.Retransmissions));
        Assert.Empty(history.Keys.Subnets);
    }

    [Theory]
    [InlineData(true, ConfirmationCheck.Right)]
    [InlineData(false, ConfirmationCheck.Wrong)]
    public void ConfirmationsAreChecked_WithTheStaticValueGiven(bool right, ConfirmationCheck expected)
    {
        new ProvisioningSession(_air, method: 1, authValue: StaticValue).Run();
        byte[] given = right ? StaticValue : [.. StaticValue.Reverse()];
        CaptureHistory history = Analyse(new KeyArguments { ProvisioningKeys = [ProvisioningSession.DevicePrivateKey], ProvisioningOobValues = [given] });
        Assert.Equal(expected, history.Provisionings[0].Confirmation);
        Assert.True(history.Provisionings[0].KeysLearnt);       // the session key does not depend on the value (Mesh Protocol 1.1 §5.4.2.5)
    }

    [Theory]
    [InlineData(2)]     // output OOB
    [InlineData(3)]     // input OOB
    public void ANumberShownOrTyped_StandsAtTheEndOfTheValue(byte method)
    {
        byte[] value = new byte[16];
        value[14] = 0x30;
        value[15] = 0x39;       // 12345
        new ProvisioningSession(_air, method: method, authValue: value).Run();
        KeyArguments given = KeyArgumentsReader.Read(
            [(KeyArgumentOption.ProvisioningKey, Convert.ToHexString(ProvisioningSession.ProvisionerPrivateKey)), (KeyArgumentOption.ProvisioningOob, "12345")], _ => null, _ => "");
        Assert.Equal(ConfirmationCheck.Right, Analyse(given).Provisionings[0].Confirmation);
    }

    [Fact]
    public void LettersShown_StandAtTheFrontOfTheValue()
    {
        byte[] value = new byte[16];
        "READ42"u8.CopyTo(value);       // an array of ASCII octets, filled up with zeros at the end (Mesh Protocol 1.1 §5.4.2.4)
        new ProvisioningSession(_air, method: 2, authValue: value).Run();
        KeyArguments given = KeyArgumentsReader.Read(
            [(KeyArgumentOption.ProvisioningKey, Convert.ToHexString(ProvisioningSession.ProvisionerPrivateKey)), (KeyArgumentOption.ProvisioningOob, "text:READ42")], _ => null, _ => "");
        Assert.Equal(ConfirmationCheck.Right, Analyse(given).Provisionings[0].Confirmation);
    }

    [Fact]
    public void ALostSegment_IsTakenFromTheRepetition_AndRepetitionsAreCounted()
    {
        var session = new ProvisioningSession(_air);
        session.Open();
        session.Send(false, [0x03, .. new byte[64]], leaveOut: 2);
        ProvisioningLink link = Assert.Single(Analyse(KeyArguments.None).Provisionings);
        Assert.Equal("Provisioning Public Key", Assert.Single(link.Pdus).Name);
        Assert.Equal(2, link.Retransmissions);      // two of the three segments were sent twice
        Assert.Equal(ProvisioningOutcome.Unfinished, link.Outcome);
    }

    [Theory]
    [InlineData(true, 1)]
    [InlineData(false, 0)]
    public void AWrongFrameCheckSequence_IsCountedAndSaid_AndARightRepetitionIsTaken(bool thenRight, int pdus)
    {
        var session = new ProvisioningSession(_air);
        session.Open();
        session.SendDamaged(false, [0x03, .. new byte[64]], thenRight);
        ProvisioningLink link = Assert.Single(Analyse(KeyArguments.None).Provisionings);
        Assert.Equal((1, pdus), (link.WrongFcs, link.Pdus.Count));
        Assert.Contains("wrong frame check sequence", link.Reason!, StringComparison.Ordinal);
    }

    [Fact]
    public void AFailure_IsToldWithItsReason_AndWinsOverTheCloseOfTheLink()
    {
        var session = new ProvisioningSession(_air);
        session.Open();
        session.Send(false, [0x00, 0x05]);
        session.Send(true, [0x09, 0x04]);
        session.Close(LinkCloseReason.Fail);
        ProvisioningLink link = Assert.Single(Analyse(KeyArguments.None).Provisionings);
        Assert.Equal(ProvisioningOutcome.Failed, link.Outcome);
        Assert.Contains("Confirmation Failed", link.Reason!, StringComparison.OrdinalIgnoreCase);
    }

    [Theory]
    [InlineData(LinkCloseReason.Timeout, ProvisioningOutcome.Failed)]
    [InlineData(LinkCloseReason.Success, ProvisioningOutcome.Closed)]
    public void ALinkClosedBeforeTheEnd_SaysAfterWhat(LinkCloseReason reason, ProvisioningOutcome expected)
    {
        var session = new ProvisioningSession(_air);
        session.Open();
        session.Send(false, [0x00, 0x05]);
        session.Close(reason);
        ProvisioningLink link = Assert.Single(Analyse(KeyArguments.None).Provisionings);
        Assert.Equal(expected, link.Outcome);
        Assert.Contains("after Provisioning Invite", link.Reason!, StringComparison.Ordinal);
    }

    [Fact]
    public void ASegmentWithAWrongFcs_GivesNoPdu()
    {
        byte[] wrong = Convert.FromHexString("23af585000" + "00000215" + "0000");   // Mesh Protocol 1.1 §8.7.3, with FCS 0x15 for 0x14
        _air.Structure(0, Protocol.Bearer.AdType.PbAdv, wrong);
        Assert.Empty(Assert.Single(Analyse(KeyArguments.None).Provisionings).Pdus);
    }

    private CaptureHistory Analyse(KeyArguments keys)
    {
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys });
        analysis.Read(_air.Frames);
        return analysis.Complete();
    }
}
