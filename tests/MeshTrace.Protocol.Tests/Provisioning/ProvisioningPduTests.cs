using CsCheck;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Provisioning;

public sealed class ProvisioningPduTests
{
    public static TheoryData<string> PlainData => VectorFile.SampleData.IdsOf("provisioning_security");

    // Mesh Protocol 1.1 §5.4.1: octets with the type octet.
    [Theory]
    [InlineData(0x00, 2)]
    [InlineData(0x01, 12)]
    [InlineData(0x02, 6)]
    [InlineData(0x03, 65)]
    [InlineData(0x04, 1)]
    [InlineData(0x05, 17, 33)]
    [InlineData(0x06, 17, 33)]
    [InlineData(0x07, 34)]
    [InlineData(0x08, 1)]
    [InlineData(0x09, 2)]
    [InlineData(0x0A, 7)]
    [InlineData(0x0C, 1)]
    public void EveryOtherLength_IsRefused(byte type, params int[] lengths)
    {
        for (int length = 1; length <= 80; length++)
        {
            byte[] octets = new byte[length];
            octets[0] = type;
            bool good = ProvisioningPdu.TryRead(octets, out _, out DecodeProblem problem);
            Assert.Equal(lengths.Contains(length), good);
            Assert.Equal(good ? ProblemKind.None : length > lengths[^1] ? ProblemKind.TooLong : ProblemKind.TooShort, problem.Kind);
        }
    }

    [Theory]
    [InlineData("0b", false)]
    [InlineData("0b00000100000000", true)]
    [InlineData("0b00000100000001aa", true)]
    [InlineData("0d00", false)]
    [InlineData("0d0000", true)]
    [InlineData("0d000000", false)]   // half a record identifier
    [InlineData("0d00000001", true)]
    [InlineData("0e", false)]         // reserved type
    [InlineData("ff", false)]
    [InlineData("", false)]
    public void PdusWithoutFixedLength_AndReservedTypes(string hex, bool good) =>
        Assert.Equal(good, ProvisioningPdu.TryRead(Convert.FromHexString(hex), out _, out _));

    [Fact]
    public void ViewsOfOneType_RefuseAnother()
    {
        Assert.False(ProvisioningFailed.TryRead([0x00, 0x05], out _, out DecodeProblem problem));
        Assert.Equal((ProblemKind.WrongValue, 0, "Type"), (problem.Kind, problem.Offset, problem.Field));
        Assert.False(ProvisioningInvite.TryRead([0x09, 0x05], out _, out _));
    }

    [Fact]
    public void EveryView_WritesThenReadsTheSame() =>
        Gen.Select(Gen.Byte, Gen.Byte, Gen.UShort, Gen.UShort, Gen.UShort, Gen.Byte.Array[64], Gen.Bool, Gen.Byte.Array[0, 50]).Sample((a, b, x, y, z, octets, wide, data) =>
        {
            byte[] pdu = [.. Enumerable.Repeat((byte)0xA5, 120)];
            int length = ProvisioningInvite.Write(pdu, a);
            Assert.True(ProvisioningInvite.TryRead(pdu.AsSpan(0, length), out ProvisioningInvite invite, out _));
            Assert.Equal(a, invite.AttentionDuration);

            length = ProvisioningCapabilities.Write(pdu, a, x, b, a, b, y, a, z);
            Assert.True(ProvisioningCapabilities.TryRead(pdu.AsSpan(0, length), out ProvisioningCapabilities c, out _));
            Assert.Equal((a, x, b, a, b, y, a, z),
                (c.NumberOfElements, c.Algorithms, c.PublicKeyType, c.OobType, c.OutputOobSize, c.OutputOobActions, c.InputOobSize, c.InputOobActions));
            Assert.Equal(11, c.Parameters.Length);

            length = ProvisioningStart.Write(pdu, (ProvisioningAlgorithm)a, (PublicKeyUse)b, (AuthenticationMethod)a, b, a);
            Assert.True(ProvisioningStart.TryRead(pdu.AsSpan(0, length), out ProvisioningStart s, out _));
            Assert.Equal(((ProvisioningAlgorithm)a, (PublicKeyUse)b, (AuthenticationMethod)a, b, a),
                (s.Algorithm, s.PublicKey, s.AuthenticationMethod, s.AuthenticationAction, s.AuthenticationSize));
            Assert.Equal(5, s.Parameters.Length);

            length = ProvisioningPublicKey.Write(pdu, octets.AsSpan(0, 32), octets.AsSpan(32));
            Assert.True(ProvisioningPublicKey.TryRead(pdu.AsSpan(0, length), out ProvisioningPublicKey key, out _));
            Assert.Equal(octets, key.Parameters.ToArray());
            Assert.Equal((octets[0], octets[32]), (key.PublicKeyX[0], key.PublicKeyY[0]));

            byte[] value = octets[..(wide ? 32 : 16)];
            length = ProvisioningConfirmation.Write(pdu, value);
            Assert.True(ProvisioningConfirmation.TryRead(pdu.AsSpan(0, length), out ProvisioningConfirmation confirmation, out _));
            Assert.Equal(value, confirmation.Confirmation.ToArray());
            length = ProvisioningRandom.Write(pdu, value);
            Assert.True(ProvisioningRandom.TryRead(pdu.AsSpan(0, length), out ProvisioningRandom random, out _));
            Assert.Equal(value, random.Random.ToArray());

            length = ProvisioningData.Write(pdu, octets.AsSpan(0, 33));
            Assert.True(ProvisioningData.TryRead(pdu.AsSpan(0, length), out ProvisioningData encrypted, out _));
            Assert.Equal(octets[..25], encrypted.EncryptedProvisioningData.ToArray());
            Assert.Equal(octets[25..33], encrypted.Mic.ToArray());

            length = ProvisioningFailed.Write(pdu, (ProvisioningError)a);
            Assert.True(ProvisioningFailed.TryRead(pdu.AsSpan(0, length), out ProvisioningFailed failed, out _));
            Assert.Equal((ProvisioningError)a, failed.ErrorCode);

            length = ProvisioningRecordRequest.Write(pdu, x, y, z);
            Assert.True(ProvisioningRecordRequest.TryRead(pdu.AsSpan(0, length), out ProvisioningRecordRequest request, out _));
            Assert.Equal((x, y, z), (request.RecordId, request.FragmentOffset, request.FragmentMaximumSize));

            length = ProvisioningRecordResponse.Write(pdu, (RecordResponseStatus)a, x, y, z, data);
            Assert.True(ProvisioningRecordResponse.TryRead(pdu.AsSpan(0, length), out ProvisioningRecordResponse response, out _));
            Assert.Equal(((RecordResponseStatus)a, x, y, z), (response.Status, response.RecordId, response.FragmentOffset, response.TotalLength));
            Assert.Equal(data, response.Data.ToArray());

            length = ProvisioningRecordsList.Write(pdu, x, [y, z]);
            Assert.True(ProvisioningRecordsList.TryRead(pdu.AsSpan(0, length), out ProvisioningRecordsList list, out _));
            Assert.Equal((x, 2, y, z), (list.ProvisioningExtensions, list.RecordCount, list.RecordId(0), list.RecordId(1)));
        });

    [Theory, MemberData(nameof(PlainData))]
    public void SpecVector_PlainDataReadsAndWritesBack(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] octets = vector.Out("provisioning_data");
        Assert.True(PlainProvisioningData.TryRead(octets, out PlainProvisioningData data, out DecodeProblem problem), problem.ToString());
        Assert.Equal(vector.In("net_key"), data.NetworkKey.ToArray());
        Assert.Equal(
            (vector.Inputs.Hex("net_key_index"), vector.Inputs.Hex("flags"), vector.Inputs.Hex("iv_index"), vector.Inputs.Address("unicast_address")),
            ((uint)data.KeyIndex, (uint)data.Flags, data.IvIndex, data.UnicastAddress));
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, 25)];
        Assert.Equal(25, PlainProvisioningData.Write(written, data.NetworkKey, data.KeyIndex, data.Flags, data.IvIndex, data.UnicastAddress));
        Assert.Equal(octets, written);
    }

    // Octets by hand: key refresh and IV update both set, which §8.17 has not.
    [Fact]
    public void PlainData_ReadsAndWritesBack()
    {
        byte[] octets = Convert.FromHexString("000102030405060708090a0b0c0d0e0f" + "0123" + "03" + "12345678" + "0b0c");
        Assert.True(PlainProvisioningData.TryRead(octets, out PlainProvisioningData data, out DecodeProblem problem), problem.ToString());
        Assert.Equal((0x123, true, true, 0x12345678u, new MeshAddress(0x0B0C)), (data.KeyIndex, data.KeyRefresh, data.IvUpdate, data.IvIndex, data.UnicastAddress));
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, 25)];
        Assert.Equal(25, PlainProvisioningData.Write(written, data.NetworkKey, data.KeyIndex, data.Flags, data.IvIndex, data.UnicastAddress));
        Assert.Equal(octets, written);
        Assert.False(PlainProvisioningData.TryRead(octets.AsSpan(1), out _, out _));
    }

    [Fact]
    public void RandomOctets_ReadAndWriteBack() => Gen.Select(Gen.Byte[0, 16], Gen.Byte.Array[0, 80]).Sample((type, parameters) =>
    {
        byte[] octets = [type, .. parameters];
        if (!ProvisioningPdu.TryRead(octets, out ProvisioningPdu pdu, out _))
            return;
        IReadOnlyList<ProvisioningFieldValue> fields = ProvisioningFieldReader.Read(pdu);
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, octets.Length)];
        Assert.Equal(octets.Length, ProvisioningFieldReader.Write(written, pdu.Type, fields));
        Assert.Equal(octets, written);
    }, iter: 5_000);

    // Codes of §5.4 by number, those of OOB information of §3.10.2.
    [Theory]
    [InlineData("0904", "Confirmation Failed")]
    [InlineData("0909", "Invalid Data")]
    [InlineData("090a", "reserved (0x0A)")]
    [InlineData("0010", "16 s")]
    [InlineData("020000020403", "BTM_ECDH_P256_CMAC_AES128_AES_CCM|No OOB Public Key is used|Output OOB|Output Alphanumeric|")]
    [InlineData("020101030204", "BTM_ECDH_P256_HMAC_SHA256_AES_CCM|OOB Public Key is used|Input OOB|Input Number|")]
    [InlineData("020000010000", "BTM_ECDH_P256_CMAC_AES128_AES_CCM|No OOB Public Key is used|Static OOB||")]
    [InlineData("01010003010308000902000c",
        "|BTM_ECDH_P256_CMAC_AES128_AES_CCM, BTM_ECDH_P256_HMAC_SHA256_AES_CCM|Public Key OOB information available|Static OOB information available, "
        + "Only OOB authenticated provisioning supported||Blink, Output Numeric||Input Number, Input Alphanumeric")]
    [InlineData("0b02000100000000", "Requested Offset Is Out Of Bounds|Device Certificate|||")]
    [InlineData("0d0000000000020099", "|0x0000 Certificate-Based Provisioning Base URI, 0x0002 Intermediate Certificate 1, 0x0099")]
    public void Fields_ReadInTheStandardsWords(string hex, string words)
    {
        Assert.True(ProvisioningPdu.TryRead(Convert.FromHexString(hex), out ProvisioningPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal(words, string.Join('|', ProvisioningFieldReader.Read(pdu).Select(f => f.Reads)));
    }

    [Fact]
    public void Words_OfBitsAndReasons()
    {
        Assert.Equal("none", ProvisioningWords.Of(OobInformation.None));
        Assert.Equal("2D machine-readable code, On box", ProvisioningWords.Of(OobInformation.TwoDimensionalCode | OobInformation.OnBox));
        Assert.Equal("reserved bit 9, On device", ProvisioningWords.Of((OobInformation)0x8200));
        Assert.Equal(["Success", "Timeout", "Fail", "reserved (0x03)"], Enumerable.Range(0, 4).Select(r => ProvisioningWords.Of((LinkCloseReason)r)));
        Assert.Equal("Key Refresh, IV Update", ProvisioningWords.OfFlags(3));
    }

    [Fact]
    public void Catalogue_HasEveryTypeOnce()
    {
        Assert.Equal(Enum.GetValues<ProvisioningPduType>(), ProvisioningCatalogue.All.Select(d => d.Type));
        Assert.Equal(14, ProvisioningCatalogue.All.Select(d => d.Name).Distinct().Count());
        Assert.Null(ProvisioningCatalogue.Find((ProvisioningPduType)14));
        Assert.All(ProvisioningCatalogue.All, d => Assert.StartsWith("Mesh Protocol 1.1 §5.4.1.", d.Source, StringComparison.Ordinal));
        // The fields of each row fill its shortest length; an open field takes what is left.
        Assert.All(ProvisioningCatalogue.All, d => Assert.True(1 + d.Fields.Sum(f => f.Octets) == d.Lengths[0] || d.Lengths.Count > 1));
    }
}
