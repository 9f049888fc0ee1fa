using CsCheck;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Tests.Proxy;

public class ProxyTests
{
    // Layouts: Mesh Protocol 1.1 §6.6, §6.9.1, §7.1, §7.2.
    [Theory]
    [InlineData("", "nothing", ProblemKind.TooShort, 0)]
    [InlineData("0000", "accept list", ProblemKind.None, 0)]
    [InlineData("00", "no filter type", ProblemKind.TooShort, 1)]
    [InlineData("000000", "one octet over", ProblemKind.TooLong, 2)]
    [InlineData("0002", "a prohibited filter type", ProblemKind.WrongValue, 1)]
    [InlineData("01", "no address, which changes nothing", ProblemKind.None, 0)]
    [InlineData("01c000", "one address", ProblemKind.None, 0)]
    [InlineData("01c0", "half an address", ProblemKind.TooShort, 2)]
    [InlineData("02c000c001ff", "two addresses and a half", ProblemKind.TooShort, 6)]
    [InlineData("03010005", "status: reject list of five", ProblemKind.None, 0)]
    [InlineData("030100", "status cut short", ProblemKind.TooShort, 3)]
    [InlineData("03030005", "status with a prohibited filter type", ProblemKind.WrongValue, 1)]
    [InlineData("040101", "capabilities", ProblemKind.None, 0)]
    [InlineData("040201", "a prohibited value of Directed_Proxy", ProblemKind.WrongValue, 1)]
    [InlineData("040102", "a prohibited value of Use_Directed", ProblemKind.WrongValue, 2)]
    [InlineData("0401", "capabilities cut short", ProblemKind.TooShort, 2)]
    [InlineData("0500", "no directed forwarding, no range", ProblemKind.None, 0)]
    [InlineData("05000607", "a range that must not be there", ProblemKind.TooLong, 2)]
    [InlineData("05010607", "a range of one address", ProblemKind.None, 0)]
    [InlineData("0501860703", "a range of three addresses (8.9.3)", ProblemKind.None, 0)]
    [InlineData("05018607", "LengthPresent, but no length", ProblemKind.TooShort, 4)]
    [InlineData("0501060703", "a length without LengthPresent", ProblemKind.TooLong, 4)]
    [InlineData("050106", "half a range", ProblemKind.TooShort, 3)]
    [InlineData("0502", "a prohibited value of Use_Directed", ProblemKind.WrongValue, 1)]
    [InlineData("7f0102", "a reserved opcode is kept as it is", ProblemKind.None, 0)]
    public void ProxyConfiguration_BadBytesAreNamedNotThrown(string hex, string why, ProblemKind kind, int offset)
    {
        Assert.NotEmpty(why);
        Assert.Equal(kind == ProblemKind.None, ProxyConfigurationMessage.TryRead(Convert.FromHexString(hex), out _, out DecodeProblem problem));
        Assert.Equal((kind, offset), (problem.Kind, problem.Offset));
    }

    [Fact]
    public void ProxyConfiguration_ReadsEachFieldAndWritesItBack()
    {
        byte[] buffer = new byte[16];
        MeshAddress[] addresses = [new(0xC000), new(0xC105), new(0x0003)];
        int length = ProxyConfigurationWriter.WriteAddresses(buffer, add: false, addresses);
        Assert.Equal("02c000c1050003", Convert.ToHexStringLower(buffer.AsSpan(0, length)));
        Assert.True(ProxyConfigurationMessage.TryRead(buffer.AsSpan(0, length), out ProxyConfigurationMessage message, out _));
        Assert.Equal(3, message.AddressCount);
        Assert.Equal((addresses[0], addresses[1], addresses[2]), (message.AddressAt(0), message.AddressAt(1), message.AddressAt(2)));
        Assert.Null(message.FilterType);
        Assert.Null(message.ListSize);
        Assert.Null(message.ClientRange);

        length = ProxyConfigurationWriter.WriteFilterStatus(buffer, ProxyFilterType.RejectList, 0x0102);
        Assert.Equal("03010102", Convert.ToHexStringLower(buffer.AsSpan(0, length)));
        Assert.True(ProxyConfigurationMessage.TryRead(buffer.AsSpan(0, length), out message, out _));
        Assert.Equal((ProxyFilterType.RejectList, (ushort?)0x0102, 0), (message.FilterType, message.ListSize, message.AddressCount));

        foreach (UnicastAddressRange? range in (UnicastAddressRange?[])[null, new(new MeshAddress(0x0607), 1), new(new MeshAddress(0x0607), 3)])
        {
            length = ProxyConfigurationWriter.WriteDirectedProxyControl(buffer, range);
            Assert.True(ProxyConfigurationMessage.TryRead(buffer.AsSpan(0, length), out message, out DecodeProblem problem), problem.ToString());
            Assert.Equal((range is not null, range), (message.UseDirected, message.ClientRange));
        }
    }

    [Fact]
    public void Segmenter_AnyMessageAndMtu_ComesTogetherAgain() => Gen.Select(Gen.Byte.Array[1, 300], Gen.Int[23, 200]).Sample((message, attMtu) =>
    {
        ProxySegmenter segmenter = new(ProxyMessageType.ProvisioningPdu, message, attMtu);
        byte[] buffer = new byte[attMtu - 3];
        List<byte> whole = [];
        List<Sar> sars = [];
        while (segmenter.TryWriteNext(buffer, out int length))
        {
            Assert.True(ProxyPdu.TryRead(buffer.AsSpan(0, length), out ProxyPdu pdu, out _));
            whole.AddRange(pdu.Data);
            sars.Add(pdu.Sar);
        }
        Assert.Equal(message, whole);
        Sar[] expected = sars.Count == 1 ? [Sar.Complete] : [Sar.First, .. Enumerable.Repeat(Sar.Continuation, sars.Count - 2), Sar.Last];
        Assert.Equal(expected, sars);
    }, iter: 500);

    [Fact]
    public void CallersMistakes_AreExceptions()
    {
        Assert.Throws<ArgumentException>(() => new ProxySegmenter(ProxyMessageType.NetworkPdu, [], 23).TryWriteNext([], out _));
        Assert.Throws<ArgumentOutOfRangeException>(() => new ProxySegmenter(ProxyMessageType.NetworkPdu, [1], 22).TryWriteNext([], out _));
        Assert.Throws<ArgumentOutOfRangeException>(() => ProxyConfigurationWriter.WriteAddresses(new byte[32], true, new MeshAddress[6]));
    }

    [Theory]
    [InlineData("", ProblemKind.TooShort)]
    [InlineData("00", ProblemKind.TooShort)]
    [InlineData("003ecaff672f6733", ProblemKind.TooShort)]
    [InlineData("003ecaff672f673370", ProblemKind.None)]
    [InlineData("003ecaff672f67337000", ProblemKind.TooLong)]
    [InlineData("013ecaff672f673370", ProblemKind.TooShort)]
    [InlineData("0434ae608fbbc1f2c634ae608fbbc1f2c6", ProblemKind.WrongValue)]
    public void ProxyServiceData_BadBytesAreNamedNotThrown(string hex, ProblemKind kind)
    {
        Assert.Equal(kind == ProblemKind.None, ProxyServiceData.TryRead(Convert.FromHexString(hex), out _, out DecodeProblem problem));
        Assert.Equal(kind, problem.Kind);
    }

    [Fact]
    public void RandomOctets_NeverThrow()
    {
        NetKeyMaterial network = new(new byte[16]);
        Gen.Byte.Array[0, 40].Sample(octets =>
        {
            if (ProxyServiceData.TryRead(octets, out ProxyServiceData data, out DecodeProblem problem))
                Assert.False(data.IsOf(network) || data.IsOf(network.IdentityKey, new MeshAddress(1)));
            else
                Assert.True(problem.IsProblem);
            Assert.Equal(octets.Length == ProvisioningServiceData.Length, ProvisioningServiceData.TryRead(octets, out _, out _));
            Assert.Equal(octets.Length == SolicitationServiceData.Length && octets[0] == 0, SolicitationServiceData.TryRead(octets, out _, out _));
            Assert.Equal(octets.Length >= 2, ProxyPdu.TryRead(octets, out _, out _));
            Assert.Equal(octets.Length >= 2, MeshService.TryRead(octets, out _, out _));
            if (!ProxyConfigurationMessage.TryRead(octets, out ProxyConfigurationMessage message, out _))
                return;
            _ = (message.FilterType, message.ListSize, message.DirectedProxy, message.UseDirected, message.ClientRange, message.Parameters.Length);
            for (int i = 0; i < message.AddressCount; i++)
                _ = message.AddressAt(i);
        }, iter: 20_000);
    }
}
