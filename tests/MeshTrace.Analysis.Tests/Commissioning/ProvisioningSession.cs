using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Security;
using Algorithm = MeshTrace.Protocol.Provisioning.ProvisioningAlgorithm;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>
/// A whole provisioning on the advertising bearer of a test, composed with the protocol's encoders. The private keys are those that Mesh Protocol 1.1 §8.7
/// prints; they are public and no network's.
/// </summary>
internal sealed class ProvisioningSession(AirBuilder air, Algorithm algorithm = Algorithm.CmacAes128, byte method = 0, byte[]? authValue = null)
{
    public const uint LinkId = 0x23AF5850;
    public const ushort Unicast = 0x0B0C;
    public const int NetKeyIndex = 0x567;
    public static readonly Guid DeviceUuid = new("70cf7c97-32a3-45b6-9149-4810d2e9cbf4");
    public static readonly byte[] ProvisionerPrivateKey = Convert.FromHexString("06a516693c9aa31a6084545d0c5db641b48572b97203ddffb7ac73f7d0457663");
    public static readonly byte[] DevicePrivateKey = Convert.FromHexString("529aa0670d72cd6497502ed473502b037e8803b5c60829a5a3caa219505530ba");

    private byte _provisionerTransaction, _deviceTransaction = PbAdvPdu.FirstTransactionNumberOfDevice;
    private double _ms;

    /// <summary>The device key that both sides derive.</summary>
    public byte[] DeviceKey { get; } = new byte[16];

    public void Open()
    {
        byte[] open = new byte[32];
        Bearer(0, open.AsSpan(0, LinkOpen.Write(open, DeviceUuid)));
        byte[] ack = new byte[32];
        Bearer(0, ack.AsSpan(0, LinkAck.Write(ack)));
    }

    public void Close(LinkCloseReason reason)
    {
        byte[] close = new byte[32];
        int length = LinkClose.Write(close, reason);
        for (int i = 0; i < 3; i++)
            Bearer(0, close.AsSpan(0, length));
    }

    /// <summary>Everything from Invite to Complete.</summary>
    public void Run()
    {
        int length = algorithm == Algorithm.CmacAes128 ? 16 : 32;
        byte[] auth = authValue ?? new byte[length];
        byte[] invite = [0x05], capabilities = Convert.FromHexString("0200030001040001000000"), start = [(byte)algorithm, 0, method, 0, 0];
        byte[] provisioner = PublicKey(ProvisionerPrivateKey), device = PublicKey(DevicePrivateKey);
        byte[] secret = new byte[32];
        Assert.True(EllipticCurve.TryGetSharedSecret(ProvisionerPrivateKey, device, secret));
        var security = new ProvisioningSecurity(algorithm, secret, [.. invite, .. capabilities, .. start, .. provisioner, .. device]);
        byte[] randomProvisioner = [.. Enumerable.Range(1, length).Select(i => (byte)i)], randomDevice = [.. Enumerable.Range(101, length).Select(i => (byte)i)];
        byte[] confirmationProvisioner = new byte[length], confirmationDevice = new byte[length], salt = new byte[16], data = new byte[25], encrypted = new byte[33];
        security.ComputeConfirmation(randomProvisioner, auth, confirmationProvisioner);
        security.ComputeConfirmation(randomDevice, auth, confirmationDevice);
        security.ComputeProvisioningSalt(randomProvisioner, randomDevice, salt);
        security.ComputeDeviceKey(salt, DeviceKey);
        PlainProvisioningData.Write(data, AirBuilder.NetKey, NetKeyIndex, 0, AirBuilder.IvIndex, new MeshAddress(Unicast));
        security.EncryptData(salt, data, encrypted);

        Send(false, [0x00, .. invite]);
        Send(true, [0x01, .. capabilities]);
        Send(false, [0x02, .. start]);
        Send(false, [0x03, .. provisioner]);
        Send(true, [0x03, .. device]);
        Send(false, [0x05, .. confirmationProvisioner]);
        Send(true, [0x05, .. confirmationDevice]);
        Send(false, [0x06, .. randomProvisioner]);
        Send(true, [0x06, .. randomDevice]);
        Send(false, [0x07, .. encrypted]);
        Send(true, [0x08]);
    }

    /// <summary>One transaction: its segments, the whole of it again where a segment is left out the first time, and the acknowledgment.</summary>
    public void Send(bool fromDevice, byte[] pdu, int leaveOut = -1)
    {
        byte number = fromDevice ? _deviceTransaction++ : _provisionerTransaction++;
        for (int round = 0; round < (leaveOut < 0 ? 1 : 2); round++)
        {
            for (int segment = 0; segment < ProvisioningSegmenter.SegmentCount(pdu.Length); segment++)
            {
                if (round == 0 && segment == leaveOut)
                    continue;
                byte[] generic = new byte[64];
                Bearer(number, generic.AsSpan(0, ProvisioningSegmenter.Write(generic, pdu, segment)));
            }
        }
        byte[] ack = new byte[8];
        Bearer(number, ack.AsSpan(0, TransactionAcknowledgment.Write(ack)));
    }

    /// <summary>A PDU whose second segment is damaged before it is sent, then that segment again, right.</summary>
    public void SendDamaged(bool fromDevice, byte[] pdu, bool thenRight)
    {
        byte number = fromDevice ? _deviceTransaction++ : _provisionerTransaction++;
        byte[] generic = new byte[64];
        for (int segment = 0; segment < ProvisioningSegmenter.SegmentCount(pdu.Length); segment++)
        {
            int length = ProvisioningSegmenter.Write(generic, pdu, segment);
            if (segment == 1)
                generic[length - 1] ^= 0x40;
            Bearer(number, generic.AsSpan(0, length));
        }
        if (thenRight)
            Bearer(number, generic.AsSpan(0, ProvisioningSegmenter.Write(generic, pdu, 1)));
    }

    private void Bearer(byte number, ReadOnlySpan<byte> generic)
    {
        byte[] pdu = new byte[64];
        int length = PbAdvPdu.Write(pdu, LinkId, number, generic);
        for (int channel = 37; channel <= 39; channel++)
            air.Structure(_ms += 0.4, AdType.PbAdv, pdu.AsSpan(0, length), channel: channel);
        _ms += 30;
    }

    private static byte[] PublicKey(byte[] privateKey)
    {
        byte[] key = new byte[EllipticCurve.PublicKeyLength];
        Assert.True(EllipticCurve.TryGetPublicKey(privateKey, key));
        return key;
    }
}
