namespace MeshTrace.Protocol.Provisioning;

// The code points of Mesh Protocol 1.1 §5.4 and §3.10.2. Values without a name are reserved and stay as they are.

/// <summary>Type of a provisioning PDU (Mesh Protocol 1.1 §5.4.1).</summary>
public enum ProvisioningPduType : byte
{
    Invite = 0x00,
    Capabilities = 0x01,
    Start = 0x02,
    PublicKey = 0x03,
    InputComplete = 0x04,
    Confirmation = 0x05,
    Random = 0x06,
    Data = 0x07,
    Complete = 0x08,
    Failed = 0x09,
    RecordRequest = 0x0A,
    RecordResponse = 0x0B,
    RecordsGet = 0x0C,
    RecordsList = 0x0D,
}

/// <summary>Error Code of Provisioning Failed.</summary>
public enum ProvisioningError : byte
{
    Prohibited = 0x00,
    InvalidPdu = 0x01,
    InvalidFormat = 0x02,
    UnexpectedPdu = 0x03,
    ConfirmationFailed = 0x04,
    OutOfResources = 0x05,
    DecryptionFailed = 0x06,
    UnexpectedError = 0x07,
    CannotAssignAddresses = 0x08,
    InvalidData = 0x09,
}

/// <summary>Algorithm: the value in Start, and the bit number in Capabilities (Mesh Protocol 1.1 §5.4.1.2, §5.4.1.3).</summary>
public enum ProvisioningAlgorithm : byte
{
    /// <summary>BTM_ECDH_P256_CMAC_AES128_AES_CCM.</summary>
    CmacAes128 = 0x00,

    /// <summary>BTM_ECDH_P256_HMAC_SHA256_AES_CCM.</summary>
    HmacSha256 = 0x01,
}

/// <summary>Public Key of Start: whether the device's public key comes in a provisioning PDU or by another way.</summary>
public enum PublicKeyUse : byte
{
    NoOob = 0x00,
    Oob = 0x01,
}

/// <summary>Authentication Method of Start.</summary>
public enum AuthenticationMethod : byte
{
    NoOob = 0x00,
    StaticOob = 0x01,
    OutputOob = 0x02,
    InputOob = 0x03,
}

/// <summary>Output OOB Action: the value in Start, and the bit number in Capabilities.</summary>
public enum OutputOobAction : byte
{
    Blink = 0x00,
    Beep = 0x01,
    Vibrate = 0x02,
    OutputNumeric = 0x03,
    OutputAlphanumeric = 0x04,
}

/// <summary>Input OOB Action: the value in Start, and the bit number in Capabilities.</summary>
public enum InputOobAction : byte
{
    Push = 0x00,
    Twist = 0x01,
    InputNumber = 0x02,
    InputAlphanumeric = 0x03,
}

/// <summary>Status of Provisioning Record Response.</summary>
public enum RecordResponseStatus : byte
{
    Success = 0x00,
    RequestedRecordIsNotPresent = 0x01,
    RequestedOffsetIsOutOfBounds = 0x02,
}

/// <summary>OOB Information of the unprovisioned device beacon and of the Mesh Provisioning service data (Mesh Protocol 1.1
/// §3.10.2).</summary>
[Flags]
public enum OobInformation : ushort
{
    None = 0,
    Other = 1 << 0,
    ElectronicUri = 1 << 1,
    TwoDimensionalCode = 1 << 2,
    BarCode = 1 << 3,
    NearFieldCommunication = 1 << 4,
    Number = 1 << 5,
    String = 1 << 6,
    CertificateBasedProvisioning = 1 << 7,
    ProvisioningRecords = 1 << 8,
    OnBox = 1 << 11,
    InsideBox = 1 << 12,
    OnPieceOfPaper = 1 << 13,
    InsideManual = 1 << 14,
    OnDevice = 1 << 15,
}
